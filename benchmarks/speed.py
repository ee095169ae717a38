"""How long an answer takes, beside general-purpose Bayesian-network libraries in the same run.

    python benchmarks/speed.py            # needs the test extra; pgmpy too, from the peers extra, if it is there

Medians after load, one process. Run it on a quiet machine: on a busy one only the ratios mean anything.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from itertools import product
from pathlib import Path

import numpy as np

from carbdiag import Case, Knowledge, diagnose, load_case
from carbdiag.belief.posterior import posterior
from carbdiag.casework import assess
from carbdiag.knowledge import default_folder
from carbdiag.next_step import rank_steps

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
    """Median wall time of `work` in milliseconds, after one warm-up."""
    work()
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(times) * 1e3


def engine(case: Case, k: Knowledge) -> None:
    """The parts of an answer, and the whole."""
    a = assess(k, case)
    b = a.beliefs[0]
    print(f"hypotheses {len(b.network.first)}, states {b.network.states}, causes {len(b.model.cause_ids)}")
    rows: list[tuple[str, Callable[[], object], float]] = [
        (
            "posterior and all cause marginals",
            lambda: posterior(b.network, b.evidence).by_state(b.network),
            0.4,
        ),
        ("diagnose() without next steps, JSON", lambda: diagnose(case, k, 0).model_dump_json(), 0.8),
        ("next-step ranking", lambda: rank_steps(b, case, (), 5), 2.0),
        ("diagnose() with next steps, JSON", lambda: diagnose(case, k, 5).model_dump_json(), 2.8),
    ]
    for name, work, goal in rows:
        print(f"{name:40} {median_ms(work):7.3f} ms   goal {goal} ms")


def start_up() -> None:
    """Import cost against numpy and pydantic alone, and a fresh process that answers the demo."""

    def fresh(code: str, runs: int = 9) -> float:
        times = []
        for _ in range(runs):
            start = time.perf_counter()
            subprocess.run([sys.executable, "-c", code], check=True, capture_output=True)
            times.append(time.perf_counter() - start)
        return min(times) * 1e3

    bare = fresh("import numpy, pydantic; pydantic.BaseModel")
    ours = fresh("import carbdiag")
    print(f"import carbdiag {ours:.0f} ms, numpy and pydantic alone {bare:.0f} ms: {ours / bare:.2f} (goal 1.3)")
    demo = default_folder() / "cases" / "demo.yaml"
    code = (
        "import carbdiag, pathlib, resource;"
        f"d = carbdiag.diagnose(carbdiag.load_case(pathlib.Path({str(demo)!r}).read_text()));"
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"
    )
    print(f"fresh process answers the demo: {fresh(code, 5):.0f} ms (goal 1500)")
    out = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    print(f"memory of that process: {int(out.stdout) / 1024:.0f} MiB (goal 150)")


def _network(causes: int, findings: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(7)
    prior = rng.uniform(0.01, 0.1, causes)
    links = np.where(rng.random((findings, causes)) < 0.4, rng.uniform(0.2, 0.9, (findings, causes)), 0.0)
    leak = rng.uniform(0.01, 0.05, findings)
    return prior, links, leak


def peers() -> None:
    """The same noisy-OR network of ten separate causes and twenty findings in three libraries."""
    prior, links, leak = _network(10, 20)
    seen = [0, 1, 2, 5, 9]
    sets = np.array(list(product((0, 1), repeat=10)), dtype=float)
    log_prior = sets @ np.log(prior / (1 - prior))

    def ours() -> np.ndarray:
        silent = (1 - leak[seen])[:, None] * np.prod(1 - links[seen][:, None, :] * sets[None], axis=2)
        weights = np.exp(log_prior + np.log1p(-silent).sum(axis=0))
        return np.asarray(weights @ sets / weights.sum())

    mine = median_ms(ours)
    print(f"ten separate causes, same enumeration idea: {mine:.3f} ms")
    try:
        import pyagrum as gum  # noqa: PLC0415
    except ImportError:
        print("pyAgrum is not installed")
    else:
        net = gum.BayesNet()
        nodes = [net.add(gum.LabelizedVariable(f"c{n}", "", 2)) for n in range(10)]
        for node, p in zip(nodes, prior, strict=True):
            net.cpt(node).fillWith([1 - p, p])
        for f in range(20):
            node = net.addNoisyORNet(gum.LabelizedVariable(f"f{f}", "", 2), float(leak[f]))
            for c in range(10):
                if links[f, c] > 0:
                    net.addWeightedArc(nodes[c], node, float(links[f, c]))

        def agrum() -> list[float]:
            engine = gum.LazyPropagation(net)
            engine.setEvidence({f"f{f}": 1 for f in seen})
            engine.makeInference()
            return [float(engine.posterior(f"c{n}")[1]) for n in range(10)]

        worst = float(np.abs(np.array(agrum()) - ours()).max())
        theirs = median_ms(agrum, 20)
        print(f"pyAgrum {theirs:.2f} ms: {theirs / mine:.0f} times ours; greatest difference {worst:.1e}")
    try:
        from pgmpy.factors.discrete import TabularCPD  # noqa: PLC0415
        from pgmpy.inference import VariableElimination  # noqa: PLC0415
        from pgmpy.models import DiscreteBayesianNetwork  # noqa: PLC0415
    except ImportError:
        print("pgmpy is not installed")
        return
    edges = [(f"c{c}", f"f{f}") for f in seen for c in range(10) if links[f, c] > 0]
    model = DiscreteBayesianNetwork(edges)
    model.add_nodes_from([f"c{c}" for c in range(10)])
    for c in range(10):
        model.add_cpds(TabularCPD(f"c{c}", 2, [[1 - prior[c]], [prior[c]]]))
    for f in seen:
        parents = [c for c in range(10) if links[f, c] > 0]
        rows = np.array(list(product((0, 1), repeat=len(parents))))
        silent = (1 - leak[f]) * np.prod(1 - links[f, parents] * rows, axis=1)
        model.add_cpds(
            TabularCPD(f"f{f}", 2, [silent, 1 - silent], [f"c{c}" for c in parents], [2] * len(parents))
        )
    inference = VariableElimination(model)
    evidence = {f"f{f}": 1 for f in seen}

    def pgm() -> list[float]:
        return [
            float(inference.query([f"c{c}"], evidence, show_progress=False).values[1]) for c in range(10)
        ]

    worst = float(np.abs(np.array(pgm()) - ours()).max())
    theirs = median_ms(pgm, 5)
    print(f"pgmpy {theirs:.1f} ms: {theirs / mine:.0f} times ours; greatest difference {worst:.1e}")


def main() -> None:
    """Print everything."""
    k = Knowledge.load()
    engine(load_case(DEMO), k)
    start = time.perf_counter()
    Knowledge.load(Path(default_folder()))
    print(f"load and cross-check the YAML: {(time.perf_counter() - start) * 1e3:.0f} ms")
    start_up()
    peers()


if __name__ == "__main__":
    main()
