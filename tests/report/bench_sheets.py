"""Small sheets, made by hand."""

from radiosim.study.bench.step import (
    DRILLED,
    BenchTestSheet,
    Chapter,
    Prediction,
    Step,
    StepCase,
    exact,
    predicted_range,
    to_see,
)


def reaction_of(name: str, low: float, high: float) -> Prediction:
    return Prediction(
        what="until it shows 1500 us",
        of=name,
        aspect="reaction",
        low=low,
        high=high,
        unit="ms",
        resolution=0.1,
        source=DRILLED,
        tries=39,
        share=0.95,
        text="1500 us",
    )


def a_sheet(text: str = "Crawler") -> BenchTestSheet:
    """An upload and a fault; the text of a stranger stands wherever a scenario's may."""
    upload = Step(
        key="upload",
        title="Upload",
        do="Let it send.",
        measure="Logic analyser.",
        cases=(
            StepCase(
                key="upload.drive",
                title=text,
                predicted=(exact("one upload", 15.92, 16.08, "us", 0.1),),
            ),
        ),
        if_not="Longer: transmitter.NAME.spi_hz.",
    )
    return BenchTestSheet(
        scenario=text,
        title=text,
        version="1",
        seed=1,
        starts=39,
        minutes=10.0,
        hazards=(f"STILL DRIVEN: pan: {text}.",),
        guessed=(),
        cautions=("Wheels off the ground, propellers off.",),
        chapters=(
            Chapter(title="Times", how="One at a time.", steps=(upload,)),
            Chapter(title="Failsafe", how="Ten times.", steps=(a_fault(text),), if_not="Late."),
        ),
        notes=(text,),
    )


def a_fault(text: str) -> Step:
    """Two cases: one output stops, one is still driven, others go on."""
    back = predicted_range(
        "back", [80.0, 90.0], "ms", 0.1, of="motor", aspect="back", source=DRILLED
    )
    return Step(
        key="power_off",
        title="Off and on",
        do="Switch it off.",
        measure="Back: from switching on.",
        cases=(
            StepCase(
                key="power_off.drive",
                title="drive",
                predicted=(
                    reaction_of("motor", 236.4, 267.6),
                    exact("bound", None, 280.25, "ms", 0.1, of="motor", aspect="bound"),
                    back,
                    to_see("lamp", "others", text, 39),
                ),
            ),
            StepCase(
                key="power_off.head",
                title="head",
                predicted=(
                    exact("reboot", 599.9, 600.1, "ms", 0.1, aspect="reboot"),
                    to_see("pan", "reaction", f"STILL DRIVEN: {text}", 39),
                    to_see("tilt", "reaction", f"STILL DRIVEN: {text}", 39),
                    to_see("lens", "reaction", "holds", 30),
                ),
            ),
        ),
        if_not=f"Look at {text}.",
    )
