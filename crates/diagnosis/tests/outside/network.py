"""Chances of causes by a general library for Bayesian networks, for `tests/network.rs`.

    pip install pyagrum==3.3.1
    python3 network.py TABLES.json > network.json

TABLES.json is what `cargo test -p diagnosis --test network` prints after TABLES when the assumptions have changed.
Exact inference (variable elimination). Nodes: the cause, the share of tests that something outside disturbs, and for each
test whether it is wrong, whether it is disturbed, and what it shows.
"""
import itertools
import json
import sys

import pyagrum


def network(tables):
    net = pyagrum.BayesNet()

    def add(name, size):
        return net.add(pyagrum.LabelizedVariable(name, "", size))

    n_causes, outside = len(tables["before"]), len(tables["before"]) - 1
    add("cause", n_causes)
    net.cpt("cause").fillWith(tables["before"])
    add("share", len(tables["disturbed"]))
    net.cpt("share").fillWith([chance for _, chance in tables["disturbed"]])
    for test in range(len(tables["beeps"][0])):
        wrong, off, shown = f"wrong{test}", f"off{test}", f"shown{test}"
        for name in (wrong, off, shown):
            add(name, 2)
        net.cpt(wrong).fillWith([1 - tables["wrong"], tables["wrong"]])
        net.addArc("cause", off)
        net.addArc("share", off)
        for cause, (at, (share, _)) in itertools.product(range(n_causes), enumerate(tables["disturbed"])):
            chance = share if cause == outside else 0.0
            net.cpt(off)[{"cause": cause, "share": at}] = [1 - chance, chance]
        for parent in ("cause", wrong, off):
            net.addArc(parent, shown)
        for cause, is_wrong, is_off in itertools.product(range(n_causes), (0, 1), (0, 1)):
            # The first row is the sound circuit, which is what a cause outside leaves.
            right = tables["beeps"][0 if cause == outside else cause + 1][test]
            beeps = tables["beeps_if_disturbed"] if is_off else right
            beeps = tables["beeps_if_wrong"] if is_wrong else beeps
            net.cpt(shown)[{"cause": cause, wrong: is_wrong, off: is_off}] = [1 - beeps, beeps]
    return net


def main():
    tables = json.load(open(sys.argv[1]))
    net = network(tables)
    cases = []
    for shown in itertools.product((True, False, None), repeat=len(tables["beeps"][0])):
        engine = pyagrum.VariableElimination(net)
        engine.setEvidence({f"shown{test}": int(seen) for test, seen in enumerate(shown) if seen is not None})
        engine.makeInference()
        cases.append({"shown": shown, "chances": [float(c) for c in engine.posterior("cause").tolist()]})
    source = f"pyAgrum {pyagrum.__version__}, VariableElimination, by network.py"
    rows = ",\n  ".join(json.dumps(case) for case in cases)
    print(f'{{"source": {json.dumps(source)},\n "tables": {json.dumps(tables)},\n "cases": [\n  {rows}\n ]}}')


main()
