import pytest

from radiosim.scenario.ask import QUESTIONS, AnswerError, Question, answered
from radiosim.scenario.ask._answers import VEHICLES


def test_every_question_has_a_name_of_its_own() -> None:
    assert len({question.name for question in QUESTIONS}) == len(QUESTIONS)


def test_nothing_said_is_all_guessed() -> None:
    answers = answered({})

    assert answers.given == frozenset()
    assert answers.controls == {"drive": ("throttle", "steer"), "head": ("pan", "tilt")}
    assert answers.every_ms == {"drive": 20, "head": 20}
    assert answers.outputs == {
        **{"throttle": "motor", "steer": "servo"},
        **{"pan": "servo", "tilt": "servo"},
    }


def test_an_empty_answer_is_a_guess_and_the_same_word_is_none() -> None:
    answers = answered({}, lambda _at, q, suggestion, _: suggestion if q.name == "rate" else " ")

    assert answers.given == {"rate"}


def test_every_question_is_asked_with_what_is_known_by_then() -> None:
    asked: list[tuple[int, str, str]] = []

    def ask(at: int, question: Question, suggestion: str, wrong: str) -> str:
        asked.append((at, question.name, suggestion))
        return {"drives": "boat", "transmitters": "hand: rudder, lamp"}.get(question.name, "")

    answered({"rate": "2M"}, ask)

    assert [name for _, name, _ in asked] == [
        q.name for q in QUESTIONS if q.name not in ("rate", "idle-us")
    ]
    assert asked[-3:] == [
        (6, "outputs", "rudder servo, lamp switch"),
        (7, "failsafe-ms", f"{VEHICLES['boat'].timeout_ms:g}"),
        (8, "boot-s", "1"),
    ]


def test_a_wrong_answer_is_asked_again_with_what_was_wrong() -> None:
    wrongs: list[str] = []

    def ask(at: int, question: Question, suggestion: str, wrong: str) -> str:
        if question.name != "rate":
            return ""
        wrongs.append(wrong)
        return "3M" if not wrong else "2M"

    assert answered({}, ask).rate == "2M"
    assert wrongs == ["", "must be one of 250k, 1M, 2M, got '3M'"]


@pytest.mark.parametrize(
    ("text", "periods"),
    [
        ("25", {"drive": 25, "head": 25}),
        ("20, 23.5", {"drive": 20, "head": 23.5}),
        ("head 23", {"drive": 20, "head": 23}),
        ("head: 23; drive = 10", {"drive": 10, "head": 23}),
        ("20 ms, 23.5ms", {"drive": 20, "head": 23.5}),
        ("head: 23 ms", {"drive": 20, "head": 23}),
    ],
)
def test_a_list_is_said_in_several_ways(text: str, periods: dict[str, float]) -> None:
    assert answered({"every-ms": text}).every_ms == periods


def test_no_failsafe_is_said_with_none() -> None:
    assert answered({"failsafe-ms": "head none"}).failsafe_ms == {"drive": 250, "head": None}


def test_a_read_may_stand_without_its_pass() -> None:
    answers = answered({"reads": "all"})

    assert (answers.read, answers.loop_ms) == ("all", 5)


@pytest.mark.parametrize(
    ("name", "text", "problem"),
    [
        ("drives", "tank", "--drives: must be one of rover, car, boat, aircraft, machine"),
        ("drives", "rovr", "got 'rovr', did you mean 'rover'?"),
        ("transmitters", "", "must be 1 to 6 transmitters, got 0"),
        ("transmitters", "a: b; c: d; e: f; g: h; i: j; k: l; m: n", "got 7"),
        ("transmitters", "drive", "got nothing for 'drive'"),
        ("transmitters", "drive: a, a", "must have different names, got 'a' twice"),
        ("transmitters", "drive: a; head: a", "must have different names, got 'a' twice"),
        ("transmitters", "drive: a; drive: b", "must have different names, got 'drive' twice"),
        ("transmitters", "receiver: a", "must not have a transmitter named 'receiver'"),
        ("transmitters", "1st: a", "not begun by a digit, got '1st'"),
        ("transmitters", 'x"y: a', "must have names of at most 30 letters"),
        ("transmitters", "a: " + " ".join(f"c{n}" for n in range(17)), "got 34 bytes"),
        ("every-ms", "0", "--every-ms: must be a number from 1 to 10000, got '0'"),
        ("every-ms", "nan", "got 'nan'"),
        ("every-ms", "1, 2, 3", "must be one for all, or 2 in order, got 3"),
        ("every-ms", "lok 20", "must name one of drive, head, got 'lok'"),
        ("every-ms", "drive 20 30, head 20", "must be NAME VALUE, got 'drive 20 30'"),
        ("acknowledge", "maybe", "must be one of yes, no, got 'maybe'"),
        ("rate", "3M", "must be one of 250k, 1M, 2M, got '3M'"),
        ("reads", "two", "must be one of one, all, newest, interrupt, got 'two'"),
        ("reads", "one 0", "must be a number from 0.01 to 10000, got '0'"),
        ("reads", "one 5 6", "must be as 'one 5', got 'one 5 6'"),
        ("outputs", "throttle rocket", "must be one of motor, servo, bridge, switch, none"),
        ("failsafe-ms", "-5", "must be a number from 1 to 60000, got '-5'"),
    ],
)
def test_an_option_that_cannot_be_used_is_refused(name: str, text: str, problem: str) -> None:
    with pytest.raises(AnswerError) as raised:
        answered({name: text})

    assert problem in str(raised.value)
    assert str(raised.value).startswith(f"--{name}: ")


def test_boots_are_asked_of_every_unit_and_never_guessed_as_nothing() -> None:
    assert answered({}).boot_s == {"drive": 1, "head": 1, "receiver": 1}
    assert answered({"boot-s": "head 2.5 s, receiver 0.2"}).boot_s == {
        "drive": 1,
        "head": 2.5,
        "receiver": 0.2,
    }
    with pytest.raises(AnswerError, match="--boot-s: must be a number from 0 to 30, got '31'"):
        answered({"boot-s": "31"})
