"""The linter finds what loads and is still wrong. Each test seeds one mistake and sees it named."""

from __future__ import annotations

import itertools
import math
from typing import Literal

import numpy as np
import pytest

from carbdiag import Knowledge, wording
from carbdiag.errors import Mistake
from carbdiag.lint import lint
from carbdiag.model import compile_model
from carbdiag.separation import APART, COMES, TWINS_BELOW, log_apart, nearest_rivals, pairs_apart, rivals, tabulate
from tests.knowledge.copies import Copy

SPARK = "causes/spark_weak.yaml"


def seeded(copy: Copy, rule: str) -> list[Mistake]:
    return [m for m in lint(copy.folder).mistakes if rule in m.rule]


def warned(copy: Copy, rule: str) -> list[Mistake]:
    return [m for m in lint(copy.folder).warnings if rule in m.rule]


def twins_of_the_copied_cause(copy: Copy) -> list[Mistake]:
    """The twins that the toy knowledge has of itself are left out."""
    return [m for m in seeded(copy, "hardly anything tells it from") if "spark_" in m.file]


def test_the_shipped_knowledge_has_no_mistake_and_no_warning() -> None:
    report = lint()
    # A new record may land before its phrases; tests/reading counts what is missing.
    assert [w for w in report.warnings if "no English phrases" not in w.rule] == []
    assert report.mistakes == ()
    assert report.fine


def test_files_that_do_not_load_are_reported_and_not_raised(copy: Copy) -> None:
    line = copy.append(SPARK, "workshop: yes\n")
    report = lint(copy.folder)
    assert not report.fine
    assert any((m.file, m.line) == (SPARK, line) for m in report.mistakes)


def test_a_cause_that_nothing_cures_on_a_kind_of_carburetor_is_named(copy: Copy) -> None:
    copy.edit(
        "actions/all.yaml",
        "{id: mend_spark, name: Mend spark,",
        "{id: mend_spark, name: Mend spark, circuits: [spare],",
    )
    copy.write(
        "circuits/spare.yaml", (copy.folder / "circuits/pilot.yaml").read_text().replace("id: pilot", "id: spare")
    )
    assert seeded(copy, "no action can be done on toy_slide")


def test_a_part_that_no_setting_of_a_family_has_cannot_be_what_an_action_needs_there(copy: Copy) -> None:
    """A cause that is off by a circuit occurs only where that is, so its cure need not be possible elsewhere."""
    copy.write(
        "circuits/spare.yaml", (copy.folder / "circuits/pilot.yaml").read_text().replace("id: pilot", "id: spare")
    )
    copy.edit("causes/low_lean.yaml", "circuit: pilot", "circuit: spare")
    copy.edit("causes/low_lean.yaml", "do: set_low", "do: mend_spark")
    copy.edit(
        "actions/all.yaml",
        "{id: mend_spark, name: Mend spark,",
        "{id: mend_spark, name: Mend spark, circuits: [spare],",
    )
    named = {m.file for m in seeded(copy, "no action can be done on toy_slide")}
    assert named == {"causes/spark_weak.yaml"}


@pytest.mark.parametrize(
    ("limit", "unknown"),
    [
        ("applies: {not_with: {mower: [pilot]}}", "mower"),
        ("asked_of: {circuits: [spare]}", "spare"),
        ("asked_of: {not_uses: [mower]}", "mower"),
    ],
)
def test_what_limits_the_machines_must_be_known(copy: Copy, limit: str, unknown: str) -> None:
    copy.edit("checks/all.yaml", "- id: spark_look\n", f"- id: spark_look\n  {limit}\n")
    assert any(m.found == unknown for m in lint(copy.folder).mistakes)


# Twins ---------------------------------------------------------------------------------------------------


def test_two_causes_with_the_same_signs_and_checks_are_twins_and_both_are_named(copy: Copy) -> None:
    text = (copy.folder / SPARK).read_text().replace("id: spark_weak", "id: spark_feeble")
    copy.write("causes/spark_feeble.yaml", text)
    (twin,) = twins_of_the_copied_cause(copy)
    assert twin.file == "causes/spark_feeble.yaml"
    assert twin.rule.startswith("hardly anything tells it from spark_weak on toy_slide")


def test_a_twin_is_named_with_the_bits_left_and_the_observations_that_tell_most(copy: Copy) -> None:
    text = (copy.folder / SPARK).read_text().replace("id: spark_weak", "id: spark_feeble")
    copy.write(
        "causes/spark_feeble.yaml",
        text.replace("finding: smells, at: [parked], often: seldom", "finding: smells, at: [parked], often: rarely"),
    )
    (twin,) = twins_of_the_copied_cause(copy)
    assert twin.found.startswith("0.0")
    assert "bit, best by smells at parked, then " in twin.found
    assert f"must give {TWINS_BELOW:g} bit" in twin.rule


def test_one_check_that_answers_differently_is_enough_to_part_twins(copy: Copy) -> None:
    text = (copy.folder / SPARK).read_text().replace("id: spark_weak", "id: spark_feeble")
    copy.write("causes/spark_feeble.yaml", text.replace("outcome: weak, often: often", "outcome: none, often: often"))
    assert not twins_of_the_copied_cause(copy)


def test_what_can_be_seen_on_several_cylinders_only_does_not_part_twins(copy: Copy) -> None:
    text = (copy.folder / SPARK).read_text().replace("id: spark_weak", "id: spark_feeble")
    copy.write("causes/spark_feeble.yaml", text.replace("outcome: weak, often: often", "outcome: none, often: often"))
    copy.edit("checks/all.yaml", "- id: spark_look\n", "- id: spark_look\n  applies: {cylinders: several}\n")
    assert len(twins_of_the_copied_cause(copy)) == 1


def test_what_can_be_seen_wherever_either_cause_occurs_does_part_twins(copy: Copy) -> None:
    text = (copy.folder / SPARK).read_text().replace("id: spark_weak", "id: spark_feeble")
    copy.write("causes/spark_feeble.yaml", text.replace("outcome: weak, often: often", "outcome: none, often: often"))
    copy.edit("checks/all.yaml", "- id: spark_look\n", "- id: spark_look\n  applies: {cylinders: several}\n")
    copy.append("causes/spark_feeble.yaml", "applies: {cylinders: several}\n")
    assert not twins_of_the_copied_cause(copy)


def test_causes_that_no_machine_has_both_of_are_no_twins(copy: Copy) -> None:
    text = (copy.folder / SPARK).read_text().replace("id: spark_weak", "id: spark_feeble")
    copy.write("causes/spark_feeble.yaml", text + "applies: {cooling: [air]}\n")
    assert twins_of_the_copied_cause(copy)
    copy.append(SPARK, "applies: {cooling: [liquid]}\n")
    assert not twins_of_the_copied_cause(copy)


def test_the_shipped_knowledge_with_a_copied_cause_has_exactly_that_twin(shipped: Copy) -> None:
    text = (shipped.folder / "causes/coil_weak.yaml").read_text()
    shipped.write("causes/coil_tired.yaml", text.replace("id: coil_weak", "id: coil_tired", 1))
    (twin,) = seeded(shipped, "hardly anything tells it from")
    assert twin.file == "causes/coil_tired.yaml"
    assert "coil_weak" in twin.rule


def test_the_ratio_of_a_check_outcome_is_the_ratio_of_its_two_probabilities(copy: Copy) -> None:
    k = Knowledge.load(copy.folder)
    machine = tabulate(compile_model(k, "toy_slide", 2))
    row = machine.rows.index("spark_look: weak")
    weak, high = (machine.causes.index(c) for c in ("spark_weak", "high_lean"))
    p = {w.value: v for w, v in k.scales.probability.items()}
    # no line of high_lean speaks, so `rarely` among usually, rarely, almost_never; spark_weak says `often`, and the
    # others share what is left as they do elsewhere
    elsewhere = {"good": p["usually"], "weak": p["rarely"], "none": p["almost_never"]}
    left = (1 - p["often"]) / (elsewhere["good"] + elsewhere["none"])
    fault = {"good": elsewhere["good"] * left, "weak": p["often"], "none": elsewhere["none"] * left}

    def sharp(chances: dict[str, float]) -> dict[str, float]:
        raised = {outcome: chance**k.scales.outcome_sharpness for outcome, chance in chances.items()}
        return {outcome: chance / sum(raised.values()) for outcome, chance in raised.items()}

    ordinary = {outcome: max(chance, k.scales.outcome_floor) for outcome, chance in sharp(elsewhere).items()}
    ratio = math.exp(machine.log_p[row, weak] - machine.log_p[row, high])
    assert ratio == pytest.approx(sharp(fault)["weak"] / (ordinary["weak"] / sum(ordinary.values())))


def test_a_sign_limited_to_one_stroke_is_shown_on_that_stroke_only(copy: Copy) -> None:
    def shown(strokes: Literal[2, 4]) -> float:
        machine = tabulate(compile_model(Knowledge.load(copy.folder), "toy_slide", strokes))
        row = machine.rows.index("misfires at half")
        return math.exp(machine.log_p[row, machine.causes.index("spark_weak")])

    assert shown(2) == shown(4) > 0.5
    copy.edit(SPARK, "finding: misfires, often", "finding: misfires, strokes: [4], often")
    assert shown(2) < 0.1
    assert shown(4) > 0.5


def test_every_pair_is_judged_by_the_exact_information_of_its_best_observations(copy: Copy) -> None:
    """Against a plain sum over every combination of outcomes, which must also find no better single observation."""
    machine = tabulate(compile_model(Knowledge.load(copy.folder), "toy_slide", 4))
    ends = [*machine.start[1:], len(machine.rows)]

    def chances(observation: int, cause: int) -> list[float]:
        p = np.exp(machine.log_p[machine.start[observation] : ends[observation], cause])
        return [float(x) for x in p / p.sum()]

    def bits(observations: list[int], a: int, b: int) -> float:
        total = 0.0
        for pick in itertools.product(*(range(len(chances(o, a))) for o in observations)):
            p, q = (math.prod(chances(o, c)[n] for o, n in zip(observations, pick, strict=True)) for c in (a, b))
            mean = (p + q) / 2
            total += (p * math.log2(p / mean) if p else 0) / 2 + (q * math.log2(q / mean) if q else 0) / 2
        return total

    pairs = list(pairs_apart(machine))
    size = len(machine.causes)
    assert [(a, b) for a, b, *_ in pairs] == list(itertools.combinations(range(size), 2))
    for a, b, found, best in pairs:
        assert found == pytest.approx(bits(list(best), a, b), abs=2e-5)
        assert len({machine.kin[o] for o in best}) == len(best)
        assert found >= max(bits([o], a, b) for o in range(len(machine.observations))) - 2e-5


def test_pairs_are_ranked_and_the_nearest_of_every_cause_is_kept(copy: Copy) -> None:
    k = Knowledge.load(copy.folder)
    ranked = rivals(tabulate(compile_model(k, "toy_slide", strokes)) for strokes in (2, 4))
    assert [round(r.bits, 6) for r in ranked] == sorted(round(r.bits, 6) for r in ranked)
    assert len(ranked) == len({frozenset((r.cause, r.rival)) for r in ranked})
    nearest = nearest_rivals(ranked)
    for cause in k.causes:
        hardest = next(r for r in ranked if cause in (r.cause, r.rival))
        assert hardest in nearest


def test_an_outcome_that_hardly_ever_comes_tells_nobody_apart() -> None:
    rare, rarer, comes = np.log([COMES / 2]), np.log([COMES / 200]), np.log([COMES * 2])
    assert log_apart(rare, rarer) == 0
    assert log_apart(comes, rarer) > np.log(APART)


# Separators ----------------------------------------------------------------------------------------------


def test_a_separator_below_threefold_is_named_with_its_ratio_and_a_better_one(copy: Copy) -> None:
    line = copy.edit(SPARK, "told_apart_by: part_look", "told_apart_by: smells")
    (weak,) = (m for m in warned(copy, "at least 3-fold") if m.file == SPARK)
    assert (weak.line, weak.field) == (line, "mistaken_for[0].told_apart_by")
    assert weak.found.startswith("smells with ")
    assert weak.nearest


def test_a_separator_of_threefold_or_more_is_not_named(copy: Copy) -> None:
    copy.edit(SPARK, "told_apart_by: part_look", "told_apart_by: spark_look")
    assert not [m for m in warned(copy, "at least 3-fold") if m.file == SPARK]


def test_a_rival_that_never_occurs_on_the_same_machine_is_named(copy: Copy) -> None:
    copy.append(SPARK, "applies: {strokes: [2]}\n")
    copy.append("causes/high_lean.yaml", "applies: {strokes: [4]}\n")
    (apart,) = (m for m in warned(copy, "never occur on the same machine") if m.file == SPARK)
    assert apart.found == "high_lean"


# Gaps ----------------------------------------------------------------------------------------------------


def test_a_finding_that_nothing_shows_is_named_with_the_place(copy: Copy) -> None:
    entry = "{id: glows, name: Glows, ask: Does it?, at: [idle], everyday: rarely, noticed_unasked: often, sources: "
    line = copy.append("findings/all.yaml", f"- {entry}[{{source: from_memory, supports: all}}]}}\n")
    (idle,) = seeded(copy, "neither the mixture nor a cause shows it")
    assert (idle.file, idle.line, idle.field, idle.found) == ("findings/all.yaml", line, "glows.at", "idle")


def test_a_cause_that_no_finding_shows_is_named(copy: Copy) -> None:
    text = (copy.folder / SPARK).read_text()
    shows = text[text.index("shows:") : text.index("checks:")]
    copy.edit(SPARK, shows, "")
    (mute,) = seeded(copy, "no finding makes it")
    assert mute.file == SPARK


def test_a_setting_that_can_only_be_off_one_way_is_named(copy: Copy) -> None:
    copy.edit("causes/low_rich.yaml", '"+1 step": often, "+2 steps": sometimes', '"+10 %": often')
    (one_way,) = seeded(copy, "no cause has this setting too")
    assert (one_way.file, one_way.rule) == ("circuits/pilot.yaml", "no cause has this setting too rich")
    assert (one_way.field, one_way.found) == ("leaner", "low_lean")


@pytest.mark.parametrize(
    ("circuit", "removed"),
    [("main_jet", "main_jet_too_large"), ("float_level", "float_level_high"), ("accelerator_pump", "pump_too_strong")],
)
def test_each_shipped_setting_misses_its_rich_side_when_that_cause_is_gone(
    shipped: Copy, circuit: str, removed: str
) -> None:
    (shipped.folder / f"causes/{removed}.yaml").unlink()
    for file in shipped.folder.rglob("*.yaml"):  # nobody may name what is gone
        lines = [line for line in file.read_text().split("\n") if f"cause: {removed}," not in line]
        text = "\n".join(lines).replace(f"{removed}, ", "").replace(f", {removed}", "").replace(f"[{removed}]", "[]")
        file.write_text(text)
    missing = seeded(shipped, "no cause has this setting too rich")
    assert [m.file for m in missing] == [f"circuits/{circuit}.yaml"]


def test_a_group_without_a_cause_is_named(copy: Copy) -> None:
    line = copy.append("groups.yaml", "- {id: lonely, name: Lonely, what: nothing}\n")
    (empty,) = seeded(copy, "a group needs at least one cause")
    assert (empty.file, empty.line) == ("groups.yaml", line)


def test_a_finding_commoner_when_right_than_every_day_is_named(copy: Copy) -> None:
    table = "mixture: {very_rich: often, rich: seldom, right: almost_never"
    line = copy.edit("findings/all.yaml", table, table.replace("almost_never", "often"))
    (above,) = seeded(copy, "must not be above everyday")
    assert (above.line, above.field, above.found) == (line, "bogs.mixture.right", "often")
    assert above.nearest == "rarely"


def test_a_check_that_no_cause_answers_is_named(copy: Copy) -> None:
    text = (copy.folder / "checks/all.yaml").read_text()
    look = text[text.index("- id: spark_look") :].replace("spark_look", "sky_look").rstrip("\n") + "\n"
    line = copy.append("checks/all.yaml", look)
    (mute,) = seeded(copy, "no cause and no group gives any outcome")
    assert (mute.line, mute.field) == (line, "sky_look.groups")


def test_a_context_that_moves_no_prior_is_named(copy: Copy) -> None:
    copy.append(
        "contexts.yaml",
        "- {id: painted, name: Painted, ask: Painted?, often: seldom, "
        "sources: [{source: from_memory, supports: all}]}\n",
    )
    assert [m.field for m in seeded(copy, "moves the prior of no cause")] == ["painted.groups"]


def test_too_few_records_are_named_with_the_minimum(copy: Copy) -> None:
    few = {m.field: m for m in seeded(copy, "are needed")}
    assert set(few) == {"causes", "findings at places", "checks", "contexts"}
    assert (few["causes"].rule, few["causes"].found) == ("at least 80 are needed", "9")


# Sources and words ---------------------------------------------------------------------------------------


def test_a_source_nobody_cites_is_warned_of(copy: Copy) -> None:
    line = copy.append("sources.yaml", '- {id: page_9, kind: published, title: A page, url: "https://example.org"}\n')
    (idle,) = warned(copy, "no record cites this source")
    assert (idle.file, idle.line) == ("sources.yaml", line)


def test_other_than_us_spelling_is_warned_of_even_in_a_comment(copy: Copy) -> None:
    line = copy.append(SPARK, "# the Carburettor\n")
    (word,) = warned(copy, "US spelling")
    assert (word.file, word.line, word.found, word.nearest) == (SPARK, line, "carburettor", "carburetor")


def test_a_makers_name_is_warned_of_but_not_in_an_address(copy: Copy, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(wording, "_MAKERS", frozenset({wording.word_digest("zorbomoto")}))
    copy.append("sources.yaml", "# https://zorbomoto.example/page\n")
    line = copy.append(SPARK, "# fits a Zorbo Moto only\n")
    assert [(m.file, m.line, m.found) for m in warned(copy, "maker's name")] == [(SPARK, line, "zorbomoto")]


def test_a_file_without_its_schema_line_is_warned_of(shipped: Copy) -> None:
    text = (shipped.folder / "causes/coil_weak.yaml").read_text()
    shipped.write("causes/coil_weak.yaml", text.split("\n", 1)[1])
    (line,) = warned(shipped, "the first line must be")
    assert (line.file, line.line) == ("causes/coil_weak.yaml", 1)


def test_a_byte_order_mark_and_the_line_ends_of_windows_are_no_mistake(shipped: Copy) -> None:
    path = shipped.folder / "causes/coil_weak.yaml"
    shipped.write("causes/coil_weak.yaml", b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    assert not warned(shipped, "the first line must be")


@pytest.mark.parametrize(
    ("phrase", "rule"),
    [
        ("[bad] shake", "can shrink to the one word 'shake'"),  # "I shook hands"
        ("bog [down] [badly]", "can shrink to the one word 'bog'"),  # written as the word it is, if it is meant
        ("stalls (at|on) the light", "fillers alone"),  # "at" is dropped, and "on" with it
    ],
)
def test_a_phrase_that_chance_would_set_off_is_refused(shipped: Copy, phrase: str, rule: str) -> None:
    line = shipped.edit("findings/idle.yaml", '"stall slightest provocation"', f'"{phrase}"')
    found = [m for m in lint(shipped.folder).mistakes if rule in m.rule]
    assert [(m.found, m.file, m.line) for m in found] == [(phrase, "findings/idle.yaml", line)]
    assert found[0].field == "stalls_at_stop.phrases"


@pytest.mark.parametrize("phrase", ["shake", "(shake|shudder)", "[bad] shake idle"])
def test_a_phrase_that_needs_enough_is_taken(shipped: Copy, phrase: str) -> None:
    shipped.edit("findings/idle.yaml", '"stall slightest provocation"', f'"{phrase}"')
    assert lint(shipped.folder).mistakes == ()


def test_all_mistakes_come_at_once(copy: Copy) -> None:
    copy.append("groups.yaml", "- {id: lonely, name: Lonely, what: nothing}\n")
    copy.edit("causes/low_rich.yaml", '"+1 step": often, "+2 steps": sometimes', '"+10 %": often')
    rules = {m.rule for m in lint(copy.folder).mistakes}
    assert {"a group needs at least one cause", "no cause has this setting too rich"} <= rules
