"""The questions of `radiosim new` as a form: what is asked, what is wrong, and what comes of it."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from radiosim.scenario.ask import (
    QUESTIONS,
    VEHICLES,
    AnswerError,
    Answers,
    count_of_guesses,
    scenario_text,
)


def form_of(said: Mapping[str, str]) -> dict[str, Any]:
    """Every question with a suggestion, and the scenario that the answers so far make.

    `said`: question's name → answer; what is empty or missing is guessed. `fields`: each `name`,
    `text`, `suggestion`, `problem` (empty: none) and `is_asked` (whether it makes sense after the
    answers before it); `toml` is null while there is a problem; `guesses` counts those in it.
    """
    answers, fields = Answers(), []
    for question in QUESTIONS:
        suggestion, problem = question.suggest(answers), ""
        text = said.get(question.name, "").strip() if question.is_asked(answers) else ""
        is_asked = question.is_asked(answers)
        try:
            read = question.read(answers, text or suggestion)
        except AnswerError as error:
            problem, read = str(error), question.read(answers, suggestion)
        answers = replace(read, given=read.given | {question.name}) if text else read
        fields.append(
            {
                "name": question.name,
                "text": question.text,
                "suggestion": suggestion,
                "problem": problem,
                "is_asked": is_asked,
            }
        )
    is_whole = not any(field["problem"] for field in fields)
    toml = scenario_text(answers) if is_whole else None
    return {
        "fields": fields,
        "toml": toml,
        "guesses": 0 if toml is None else count_of_guesses(toml),
        "caution": f"{VEHICLES[answers.drives].caution}.",
    }
