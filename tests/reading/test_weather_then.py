"""Weather told as then and as now: which way it turned, whatever the order and the words."""

from __future__ import annotations

import pytest

from carbdiag import read_text


def weather(text: str) -> set[str]:
    return {c.context for c in read_text(text).contexts} & {"colder_weather", "hotter_weather"}


@pytest.mark.parametrize(
    "text",
    [
        "it was jetted at 80 degrees and today its 40 degrees",
        "Ran great in the summer. Now that its winter it bogs.",
        "It runs great in hot weather but in cold weather it pops.",
        "Jetted it for 90F days, this morning was 45F and it pops and runs hot",
        "never had a problem until it got cold, it ran great all summer",
        "I jetted it in the heat of summer and now its freezing and it pops",
        "freezing out now, it was jetted in the heat of summer",
        "Runs great all summer. Gets cold and it starts spitting.",
        "tuned for 20F. Last night it was -25 and she was detonating",
        "Quad was fine in summer. Now it's -5 and it backfires through the carb when cold.",
        "ran great all summer, now its 3 degrees out and it wont pull clean",
        "It ran perfect in August. Now in November it stumbles off the bottom.",
        "jetted in July at 28 degrees, today 2 degrees",
        "Outside temp 8C. We normally run at 25C.",
        "ran perfect in august (90F). now november its 38F and it bogs",
    ],
)
def test_it_is_colder_than_when_it_ran_well(text: str) -> None:
    assert weather(text) == {"colder_weather"}


@pytest.mark.parametrize(
    "text",
    [
        "Ran great last winter. Now in the heat it loads up.",
        "Now its hot out and it blubbers, was fine in winter.",
        "it runs great when its 30F but at 85F it blubbers",
        "Fine at 70 degrees, bad at 95 degrees.",
        "jetting was spot on in winter at 35F, today at 95F it four strokes everywhere",
        "tuned it in February, its July now and it's 90 out and it loads up",
        "No issues at 10C but at 32C it wont pull clean.",
        "it was dialed in in january, now its 95 out",
        "jetted in january at 2 degrees, today 28 degrees",
        "Ran perfect in winter, now its 35C and it blubbers.",
        "Sled jetted for minus 20. Today it is plus 5 and it is blubbery.",
    ],
)
def test_it_is_hotter_than_when_it_ran_well(text: str) -> None:
    assert weather(text) == {"hotter_weather"}


@pytest.mark.parametrize(
    "text",
    [
        "Put it away in the fall running great. Got it out in spring and it wont idle.",
        "Ran great last summer, sat over the winter, now it wont idle.",
        "Ran great last summer, sat in the garage all winter. Now it wont idle.",
        "Last summer I rebuilt it. This winter it sat.",
        "Rode it all summer no problem. Changed the plug, now it pops.",
        "It was 20C when I jetted it and its 22C now",
        "starts fine when it's cold, dies when it gets hot",
        "runs great cold, when its hot it dies",
        "fine when it's cold but once it's hot it bogs",
        "fine in summer and fine in winter",
        "it went great all winter. Yesterday it got hot and the plug is white",
    ],
)
def test_seasons_and_a_hot_engine_tell_no_change_of_weather(text: str) -> None:
    assert not weather(text)
