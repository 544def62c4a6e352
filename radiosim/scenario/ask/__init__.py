"""From questions in a builder's words to a commented scenario with its guesses marked."""

from radiosim.scenario.ask._answers import VEHICLES, AnswerError, Answers
from radiosim.scenario.ask._questions import (
    QUESTIONS,
    Question,
    answered,
    count_of_guesses,
    scenario_text,
)

__all__ = [
    "QUESTIONS",
    "VEHICLES",
    "AnswerError",
    "Answers",
    "Question",
    "answered",
    "count_of_guesses",
    "scenario_text",
]
