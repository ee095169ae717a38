"""How long an answer takes, beside general-purpose Bayesian-network libraries in the same run.

    python benchmarks/speed.py            # needs the test extra; pgmpy too, from the peers extra, if it is there

Medians after load, one process, in processor time of that process: what it takes on an idle core. Other jobs still
disturb the caches, so run it on a quiet machine when it matters.
"""

from __future__ import annotations

import gc
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from itertools import product
from pathlib import Path

import numpy as np
from child_time import of_children

from carbdiag import Case, Knowledge, diagnose, load_case
from carbdiag.belief.evidence import PlaceTerm, SignPart, signs_alone
from carbdiag.belief.lattice import Lattice
from carbdiag.belief.network import Signs, build
from carbdiag.belief.posterior import Evidence, posterior
from carbdiag.casework.assessing import assess, with_pairs
from carbdiag.casework.believed import Belief
from carbdiag.knowledge import default_folder
from carbdiag.next_step import rank_steps
from carbdiag.outlook import outlook
from carbdiag.prepared import prepare
from carbdiag.reading.phrasebook import prepare as prepare_phrases
from carbdiag.walk_schema import WalkRequest
from carbdiag.walking import walk

DEMO = """
machine: {family: round_slide, strokes: 2, cylinders: 1}
contexts: [exhaust_changed]
findings:
  - {finding: bogs, at: half}
  - {finding: better_when_eased, at: full}
  - {finding: black_smoke, status: denied}
checks:
  - {check: touch_of_choke, at: half, outcome: better}
"""


def median_ms(work: Callable[[], object], runs: int = 300) -> float:
    """Median processor time of `work` in milliseconds, after a warm-up; short work several times at once."""
    work()
    start = time.process_time()
    work()
    calls = max(1, int(_BATCH_S / max(time.process_time() - start, 1e-6)))
    times = []
    for _ in range(runs):
        start = time.process_time()
        for _ in range(calls):
            work()
        times.append((time.process_time() - start) / calls)
    return statistics.median(times) * 1e3


#: Work shorter than this is timed several times at once, for reading the clock takes time of its own.
_BATCH_S = 3e-4


def engine(case: Case, k: Knowledge) -> None:
    """The parts of an answer, and the whole."""
    a = assess(k, case)
    b = a.beliefs[0]
    print(f"hypotheses looked at {b.network.size}, states {b.network.states}, causes {len(b.model.cause_ids)}")
    rows: list[tuple[str, Callable[[], object], float]] = [
        (
            "posterior and all cause marginals",
            lambda: weigh(k, b),
            0.6,
        ),
        ("diagnose() without steps and sizes, JSON", lambda: diagnose(case, k, 0, False).model_dump_json(), 0.8),
        ("next-step ranking", lambda: rank_steps(b, case, (), 5, outlook(b)), 2.0),
        ("diagnose() with steps and sizes, JSON", lambda: diagnose(case, k, 5).model_dump_json(), 4.8),
    ]
    for name, work, goal in rows:
        print(f"{name:40} {median_ms(work):7.3f} ms   goal {goal} ms")
    # all threads count: one that spins beside a product too large for one core shows here
    print(f"{'next question of a walk':40} {median_ms(lambda: walk(WalkRequest(case=case), k), 20):7.3f} ms")


def weigh(k: Knowledge, b: Belief) -> np.ndarray:
    """Evidence to all marginals: single causes, the choice of pairs, the pairs."""
    network = with_pairs(k, b.model.network, b.evidence, b.observations)
    return posterior(network, b.evidence).by_state(network)


def start_up() -> None:
    """Import cost against numpy and pydantic alone, and fresh processes that answer the demo and read a post."""
    # as of an installed package: its bytecode is there, whatever this environment forbids
    bytecode = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    kept = tempfile.TemporaryDirectory()
    bytecode["PYTHONPYCACHEPREFIX"] = kept.name

    def fresh(code: str, runs: int = 9) -> float:
        times = []
        for _ in range(runs + 1):  # the first one compiles
            start = of_children()
            subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, env=bytecode)
            times.append(of_children() - start)
        return min(times) * 1e3

    bare = fresh("import numpy, pydantic; pydantic.BaseModel")
    ours = fresh("import carbdiag")
    print(f"import carbdiag {ours:.0f} ms, numpy and pydantic alone {bare:.0f} ms: {ours / bare:.2f} (goal 1.3)")
    demo = default_folder() / "cases" / "demo.yaml"
    code = (
        "import carbdiag, pathlib;"
        f"d = carbdiag.diagnose(carbdiag.load_case(pathlib.Path({str(demo)!r}).read_text()));"
        # not `ru_maxrss`: a child's begins at that of the process that started it, which is this benchmark
        "print(pathlib.Path('/proc/self/status').read_text().split('VmHWM:')[1].split()[0])"
    )
    print(f"fresh process answers the demo: {fresh(code, 5):.0f} ms (goal 1500)")
    out = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True, env=bytecode)
    print(f"memory of that process: {int(out.stdout) / 1024:.0f} MiB (goal 150)")
    post = Path(__file__).parent.parent / "docs" / "examples" / "post.txt"
    code = f"import carbdiag.cli; carbdiag.cli.main(['read', {str(post)!r}])"
    print(f"fresh process reads a short post (carbdiag read): {fresh(code, 5):.0f} ms")
    kept.cleanup()


CAUSES, SIGNS, SEEN = 10, 20, (0, 1, 2, 5, 9)


def peers() -> None:
    """The same question in three libraries: ten separate causes, at most two of them at work, twenty noisy-OR signs."""
    rng = np.random.default_rng(7)
    prior = rng.uniform(0.01, 0.1, CAUSES)
    links = np.where(rng.random((SIGNS, CAUSES)) < 0.4, rng.uniform(0.2, 0.9, (SIGNS, CAUSES)), 0.0)
    leak = rng.uniform(0.01, 0.05, SIGNS)
    ours = _ours(prior, links, leak)
    mine = median_ms(ours)
    print(f"carbdiag, {CAUSES} separate causes and their pairs: {mine * 1e3:.1f} us")
    for name, build_peer in (("pyAgrum", _agrum), ("pgmpy", _pgmpy)):
        try:
            theirs = build_peer(prior, links, leak)
        except ImportError:
            print(f"{name} is not installed")
            continue
        worst = float(np.abs(theirs() - ours()).max())
        ms = median_ms(theirs, 10)
        print(f"{name} {ms:.1f} ms: {ms / mine:.0f} times ours; greatest difference {worst:.0e}")


def _ours(prior: np.ndarray, links: np.ndarray, leak: np.ndarray) -> Callable[[], np.ndarray]:
    lattice = Lattice(0.005, 0.4, 0.03, 0.10)
    number = np.arange(-1, CAUSES)
    by_state = np.concatenate([np.ones((SIGNS, 1)), 1 - links], axis=1)
    signs = Signs(
        place=np.zeros(SIGNS, dtype=np.intp),
        silent_base=np.repeat(1 - leak[:, None], lattice.size, axis=1),
        silent_links=by_state,
        has_mixture=(False,) * SIGNS,
        has_links=(True,) * SIGNS,
    )
    odds = np.concatenate([[1.0], prior / (1 - prior)])
    x = np.zeros((1, CAUSES + 1), dtype=np.intp)
    network = build(lattice, number, number, odds, x, signs, np.array([0.03]), frozenset(), 1.0)

    told = tuple(PlaceTerm(1.0, (SignPart(f, -1.0),)) for f in SEEN)
    evidence = Evidence(odds, np.ones(CAUSES + 1), (), (signs_alone(network, told),))

    def answer() -> np.ndarray:
        return posterior(network, evidence).by_state(network)[1:]

    return answer


def _agrum(prior: np.ndarray, links: np.ndarray, leak: np.ndarray) -> Callable[[], np.ndarray]:
    import pyagrum as gum  # noqa: PLC0415

    net = gum.BayesNet()
    nodes = [net.add(gum.LabelizedVariable(f"c{n}", "", 2)) for n in range(CAUSES)]
    for node, p in zip(nodes, prior, strict=True):
        net.cpt(node).fillWith([1 - p, p])
    for f in range(SIGNS):
        node = net.addNoisyORNet(gum.LabelizedVariable(f"f{f}", "", 2), float(leak[f]))
        for c in range(CAUSES):
            if links[f, c] > 0:
                net.addWeightedArc(nodes[c], node, float(links[f, c]))
    few = net.add(gum.LabelizedVariable("few", "", 2))
    for node in nodes:
        net.addArc(node, few)
    for state in product((0, 1), repeat=CAUSES):
        at = {f"c{n}": v for n, v in enumerate(state)}
        net.cpt(few)[at] = [0.0, 1.0] if sum(state) <= 2 else [1.0, 0.0]

    def answer() -> np.ndarray:
        engine = gum.LazyPropagation(net)
        engine.setEvidence({**{f"f{f}": 1 for f in SEEN}, "few": 1})
        engine.makeInference()
        return np.array([float(engine.posterior(f"c{n}")[1]) for n in range(CAUSES)])

    return answer


def _pgmpy(prior: np.ndarray, links: np.ndarray, leak: np.ndarray) -> Callable[[], np.ndarray]:
    from pgmpy.factors.discrete import TabularCPD  # noqa: PLC0415
    from pgmpy.inference import VariableElimination  # noqa: PLC0415
    from pgmpy.models import DiscreteBayesianNetwork  # noqa: PLC0415

    names = [f"c{c}" for c in range(CAUSES)]
    edges = [(f"c{c}", f"f{f}") for f in SEEN for c in range(CAUSES) if links[f, c] > 0]
    model = DiscreteBayesianNetwork([*edges, *((c, "few") for c in names)])
    model.add_cpds(*(TabularCPD(c, 2, [[1 - p], [p]]) for c, p in zip(names, prior, strict=True)))
    for f in SEEN:
        parents = [c for c in range(CAUSES) if links[f, c] > 0]
        rows = np.array(list(product((0, 1), repeat=len(parents))))
        silent = (1 - leak[f]) * np.prod(1 - links[f, parents] * rows, axis=1)
        model.add_cpds(
            TabularCPD(f"f{f}", 2, [silent, 1 - silent], [f"c{c}" for c in parents], [2] * len(parents))
        )
    few = np.array([float(sum(s) <= 2) for s in product((0, 1), repeat=CAUSES)])
    model.add_cpds(TabularCPD("few", 2, [1 - few, few], names, [2] * CAUSES))
    inference = VariableElimination(model)
    evidence = {**{f"f{f}": 1 for f in SEEN}, "few": 1}

    def answer() -> np.ndarray:
        return np.array([inference.query([c], evidence, show_progress=False).values[1] for c in names])

    return answer


def main() -> None:
    """Print everything."""
    k = Knowledge.load()
    diagnose(load_case(DEMO), k)
    gc.collect()
    gc.freeze()  # as the service does once it has loaded: the knowledge is not searched for garbage again and again
    engine(load_case(DEMO), k)
    prepare(default_folder())  # as the build of a wheel does
    prepare_phrases(default_folder())
    for what, folder in (("parsed now", default_folder()), ("as the wheel brings it", None)):
        print(f"load and cross-check the knowledge, {what}: {median_ms(lambda f=folder: Knowledge.load(f), 5):.0f} ms")
    start_up()
    peers()


if __name__ == "__main__":
    main()
