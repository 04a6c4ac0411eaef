"""Holds figures that Quadjig computed against scipy, numpy, jenkspy and fastcrc.

Reads lines of JSON, each a case with its kind, what went in and what came out; prints for each kind how many there
were and the largest difference, and ends with 1 where one is too large.
"""

import json
import sys

import fastcrc
import jenkspy
import numpy
import scipy.stats
from scipy.sparse.csgraph import connected_components

cases = {}
with open(sys.argv[1], encoding="utf-8") as lines:
    for line in lines:
        case = json.loads(line)
        cases.setdefault(case["kind"], []).append((case["in"], case["out"]))


def robust(values):
    """Median, MAD, the normal scale of it, mean, standard deviation with n - 1."""
    sigma = scipy.stats.median_abs_deviation(values, scale="normal")
    deviation = numpy.std(values, ddof=1) if len(values) > 1 else 0.0
    return [numpy.median(values), scipy.stats.median_abs_deviation(values), sigma, numpy.mean(values), deviation]


def bounds(given):
    """The exact one-sided bound where all were well."""
    starts, doubt = given
    test = scipy.stats.binomtest(starts, starts, alternative="greater")
    return [test.proportion_ci(1 - doubt, method="exact").low]


def squares(values, breaks):
    """Sum of squares within clusters that end at these breaks."""
    values, place, total = sorted(values), 0, 0.0
    for last in breaks[1:]:
        members = [v for v in values[place:] if v <= last]
        place += len(members)
        total += float(numpy.var(members)) * len(members) if members else 0.0
    return total


def clusters(given):
    """Squares within the clusters of jenkspy; ours are compared by theirs, as several divisions may be as good."""
    values, count = given
    return [squares(values, jenkspy.jenks_breaks(values, n_classes=count))]


def exchanges(order):
    """Fewest exchanges of a permutation: its length less the number of its cycles."""
    size = len(order)
    graph = numpy.zeros((size, size))
    graph[numpy.arange(size), order] = 1
    return [size - connected_components(graph, directed=False)[0]]


def intervals(given):
    """From the last sample with, to the first without, of two streams."""
    ends = []
    for samples in given:
        times, on = numpy.array([s[0] for s in samples]), numpy.array([s[1] for s in samples])
        last = int(numpy.flatnonzero(on)[-1])
        ends.append((int(times[last]), int(times[last + 1])))
    (before, after), (rest_before, rest_after) = ends
    return [max(0, rest_before - after), max(0, rest_after - before)]


kinds = {
    "robust": (robust, 1e-9),
    "bounds": (bounds, 1e-8),
    "clusters": (clusters, 1e-6),
    "exchanges": (exchanges, 0),
    "intervals": (intervals, 0),
    "crc": (lambda text: [fastcrc.crc16.mcrf4xx(bytes.fromhex(text))], 0),
}
wrong = False
for kind, (reference, allowed) in kinds.items():
    worst, at = 0.0, None
    for given, found in cases[kind]:
        wanted = reference(given)
        for one, other in zip(found, wanted, strict=True):
            off = abs(one - float(other)) / max(1.0, abs(float(other)))
            if off > worst:
                worst, at = off, (given, found, [float(w) for w in wanted])
    print(f"{kind}: {len(cases[kind])} cases, {worst:.3g} off at most")
    if worst > allowed:
        wrong = True
        print(f"  {at}")
sys.exit(wrong)
