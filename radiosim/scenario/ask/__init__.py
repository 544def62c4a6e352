"""From eight questions in a builder's words to a commented scenario with its guesses marked."""

from radiosim.scenario.ask.answers import AnswerError, Answers
from radiosim.scenario.ask.questions import QUESTIONS, Question, answered
from radiosim.scenario.ask.scenario import count_of_guesses, scenario_text
from radiosim.scenario.ask.vehicles import VEHICLES

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
