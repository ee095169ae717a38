"""Answers for the tests: one made by hand, in which every caution has a text of its own, and invented cases."""

from __future__ import annotations

from carbdiag import Diagnosis, load_case
from carbdiag.case_schema import (
    Air,
    AirChange,
    Case,
    CheckResult,
    ContextReport,
    FindingReport,
    FittedParts,
    Jet,
    Machine,
    Trial,
)
from carbdiag.diagnosis_schema import (
    BandMixture,
    CauseBelief,
    Correction,
    NextStep,
    OutcomeMeaning,
    Reason,
    Statement,
    Unexplained,
    UnlistedBelief,
)
from carbdiag.knowledge import default_folder
from carbdiag.records.safety import CautionText
from carbdiag.records.sources import Citation
from carbdiag.terms import Change, Effect, Level, Status


def demo() -> Case:
    return load_case((default_folder() / "cases" / "demo.yaml").read_text(encoding="utf-8"))


def one_line(text: str) -> str:
    return " ".join(text.split())


def section(page: str, title: str) -> str:
    """The lines under a heading, up to the next line that is not indented."""
    lines = page.splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith(title))
    body = []
    for line in lines[start + 1 :]:
        if line and not line.startswith(" "):
            break
        body.append(line)
    return "\n".join(body)


def caution(name: str) -> CautionText:
    words = name.replace("_", " ")
    return CautionText(id=name, text=f"Mind the {words}, always.", short=f"Mind the {words}.")


def step(name: str, *cautions: str) -> NextStep:
    return NextStep(
        kind="check",
        id=name,
        name=f"Look at the {name}",
        do=f"Open it and look at the {name} in good light.",
        minutes=5,
        tools=("lamp",),
        outcomes=(
            OutcomeMeaning(outcome="dirty", means="Dirt is the cause.", probability=0.6),
            OutcomeMeaning(outcome="clean", means="Dirt is not the cause.", probability=0.4),
        ),
        gain_bits=0.5,
        gain_per_minute=0.1,
        why="It helps to tell dirt from wear.",
        cautions=tuple(caution(c) for c in cautions),
    )


def cause(name: str, probability: float, *cautions: str, held_back: str | None = None) -> CauseBelief:
    return CauseBelief(
        id=name,
        group="other",
        name=f"The {name} is off",
        summary=f"The {name} passes too little.",
        probability=probability,
        words="likely",
        because=(Reason(observation="Bogs", text="Bogs: speaks for it", weight=1.0),),
        against=(Reason(observation="Smokes", text="Smokes: speaks against it", weight=-1.0),),
        correction=Correction(
            action="change_it",
            name=f"Change the {name}",
            part=f"The {name}",
            size="one size richer",
            steps=("Shut the tap.", f"Take the {name} out."),
            minutes=30,
            tools=("key",),
            verify="It pulls cleanly.",
            put_back="Refit the old one.",
            held_back=held_back,
            cautions=tuple(caution(c) for c in cautions),
        ),
        verify="It pulls cleanly.",
        sources=(Citation(source="common_practice", supports="prior"),),
        cautions=tuple(caution(c) for c in (*cautions, f"nature_of_{name}")),
        spelled_out=probability >= 0.2,
    )


def by_hand(held_back: str | None = None, flag: bool = False, left_out: float = 0.0) -> Diagnosis:
    return Diagnosis(
        edition="test",
        case_id="by hand",
        answer="likely",
        summary="The jet is likely off.",
        understood=("Round slide", "Bogs"),
        machine=Machine(family="hand_made", strokes=2),
        told=(Statement(kind="finding", ids=("bogs",), text="Bogs"),),
        causes=(
            cause("jet", 0.6, "vapor", "wire", held_back=held_back),
            cause("vent", 0.2, "cap"),
            cause("tap", 0.1, "vapor", "spill"),
        ),
        order=("vent", "jet", "tap"),
        groups=(),
        nothing_wrong=0.01,
        unlisted=UnlistedBelief(probability=0.05),
        mixture=(
            BandMixture(
                place="half",
                name="half throttle",
                levels=dict.fromkeys(Level, 0.2),
                verdict="perhaps lean (60%)",
                circuits=("needle", "main_jet"),
            ),
        ),
        next_steps=(step("bowl", "vapor", "heat"), step("plug", "heat", "shock"), step("hose", "spill")),
        unexplained=Unexplained(
            flag=flag, ratio=9, findings=("Bogs",) if flag else (), text="Take it with care."
        ),
        left_out=left_out,
        notes=("Two-stroke was not said.",),
        cautions=(caution("vapor"), caution("carbon_monoxide")),
        of_machine=("carbon_monoxide",),
        meaning="Percentages are degrees of belief.",
    )


CASES = {
    "nothing told": Case(),
    "demo": demo(),
    "fuel in the oil": Case(
        machine=Machine(strokes=4, oiling="sump"),
        findings=(FindingReport(finding="fuel_in_oil", at=("parked",)),),
    ),
    "rich and smoking": Case(
        machine=Machine(family="flat_slide_pump", strokes=4),
        findings=(
            FindingReport(finding="black_smoke", at=("full",)),
            FindingReport(finding="blubbers", at=("full",)),
        ),
    ),
    "knocks": Case(
        machine=Machine(strokes=2),
        findings=(
            FindingReport(finding="knocks", at=("full",)),
            FindingReport(finding="runs_hot", at=("overall",)),
        ),
    ),
    "will not start": Case(findings=(FindingReport(finding="will_not_start", at=("cold_start",)),)),
    "floods when parked": Case(findings=(FindingReport(finding="fuel_overflow", at=("parked",)),)),
    "races by itself": Case(findings=(FindingReport(finding="revs_run_away", at=("idle",)),)),
}


# ---------------------------------------------------------------------------------------------------------
# Invented cases whose answers are kept as golden pages

GOLDEN_CASES = {
    "demo": demo(),
    # nothing but two everyday signs: many causes stay open
    "vague": Case(
        machine=Machine(strokes=4, family="flat_slide_pump"),
        findings=(FindingReport(finding="bogs", at=("snap_open",)), FindingReport(finding="pops_on_overrun")),
    ),
    # the nearest to a clear setting: a good engine that only snaps badly, and rolls on well
    "weak_pump": Case(
        title="Invented: trail machine falls flat when the throttle is whacked open",
        machine=Machine(strokes=4, family="flat_slide_pump", cylinders=1),
        findings=(
            FindingReport(finding="bogs", at=("snap_open",)),
            FindingReport(finding="surges", at=("half",), status=Status.DENIED),
        ),
        checks=(CheckResult(check="slow_roll_on", outcome="clean"),),
    ),
    # a setting in both words and measure: rich at full, with the jets named
    "rich_main": Case(
        title="Invented: moved up to a mountain pass, smokes and blubbers at full throttle",
        machine=Machine(
            strokes=2,
            family="round_slide",
            cylinders=1,
            parts=FittedParts(main_jet=Jet(number=170, numbering="bore")),
        ),
        air=AirChange(set=Air(elevation_m=200, temperature_c=20), now=Air(elevation_m=1900, temperature_c=15)),
        contexts=(ContextReport(context="moved_up"),),
        findings=(FindingReport(finding="black_smoke", at=("full",)), FindingReport(finding="blubbers", at=("full",))),
        trials=(Trial(change="main_jet", direction=Change.LEANER, at="full", effect=Effect.BETTER),),
    ),
    # looks like jetting, is fuel supply
    "mimic": Case(
        title="Invented: fades after half a minute flat out, comes back after a rest",
        machine=Machine(strokes=2, family="round_slide", fuel_feed="gravity"),
        findings=(
            FindingReport(finding="fades_like_out_of_fuel", at=("sustained_full",)),
            FindingReport(finding="recovers_after_rest"),
        ),
        trials=(Trial(do="clean_carburetor", effect=Effect.NO_CHANGE),),
    ),
    # contradicts itself: nothing known explains it well
    "unexplained": Case(
        machine=Machine(strokes=4, family="round_slide"),
        findings=(
            FindingReport(finding="black_smoke", at=("full",)),
            FindingReport(finding="knocks", at=("full",)),
            FindingReport(finding="fuel_in_oil", at=("parked",)),
            FindingReport(finding="revs_run_away", at=("idle",)),
        ),
        checks=(CheckResult(check="touch_of_choke", outcome="better", at="full"),),
    ),
    # a hold keeps full-throttle checks from being proposed
    "hold": Case(
        machine=Machine(strokes=2, family="flat_slide", cylinders=1),
        findings=(FindingReport(finding="knocks", at=("full",)), FindingReport(finding="runs_hot")),
    ),
    "empty": Case(),
}
