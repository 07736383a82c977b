"""What the drying solver costs and how far it is off, side by side with general solvers: run by hand.

    python tests/benchmarks/solver.py [--quick] [--peers]

Everything is one thread; times are the least of interleaved rounds of CPU time, so the ratios are sounder than the
milliseconds. `--quick` takes fewer draws; `--peers` adds py-pde and FiPy (minutes).
"""

import argparse
import dataclasses
import os
import sys
import time
import tracemalloc
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from scipy.integrate import odeint, solve_ivp
from scipy.optimize import brentq

sys.path.insert(0, str(Path(__file__).parents[1] / "oracles"))
from test_drying_oracles import PIECE, UNSALTED, WARM, laws, wide_draws

from flakeyard.models.drying_chain import Chain
from flakeyard.models.drying_physics import SlabInAir
from flakeyard.models.slab_drying import dry

HOUR = 3600.0
TIMES = HOUR * np.linspace(0.0, 48.0, 97)


def cpu(*jobs, rounds=7):
    """Least CPU time of each job in ms, the jobs taken in turn."""
    least = [np.inf] * len(jobs)
    for _ in range(rounds):
        for number, job in enumerate(jobs):
            begin = time.process_time()
            job()
            least[number] = min(least[number], 1e3 * (time.process_time() - begin))
    return least


def exact(slab, air, **more):
    """A solution on a fine grid with small steps."""
    return dry(slab, air, TIMES, nodes=101, tolerance=1e-5, longest_step=1800.0, **more)


def worst(curve, reference):
    """Largest relative error of a moisture curve."""
    return float(np.abs(curve / reference - 1.0).max())


def same_grid(slab, air, nodes=17):
    """Our own nodes and rates as a plain right-hand side for a general solver."""
    chain = Chain(SlabInAir(slab, air), nodes, 1.5)
    share = chain.dryer.solids_share[0, 0]
    return (
        chain.start()[0],
        (lambda state: chain.rates(state[None])[0]),
        (lambda states: states @ chain.readout[:, 0] * share),
    )


def lsoda(slab, air, tolerance, nodes=17):
    """LSODA with a band Jacobian on our nodes."""
    start, rates, mean = same_grid(slab, air, nodes)
    absolute = np.append(np.full(nodes, 0.1 * tolerance), 100.0 * tolerance)
    states = odeint(lambda y, _: rates(y), start, TIMES, rtol=tolerance, atol=absolute, ml=1, mu=1, mxstep=20_000)
    return mean(states)


def bdf(slab, air, tolerance, nodes=17):
    """BDF with a dense Jacobian on our nodes."""
    start, rates, mean = same_grid(slab, air, nodes)
    absolute = np.append(np.full(nodes, 0.1 * tolerance), 100.0 * tolerance)
    found = solve_ivp(lambda _, y: rates(y), (0.0, TIMES[-1]), start, "BDF", TIMES, rtol=tolerance, atol=absolute)
    return mean(found.y.T)


class Potential:
    """Integral of the diffusivity of moist flesh by moisture, and back, by table: the form py-pde keeps water with."""

    def __init__(self, slab, air):
        self.own, diffusion, self.surface = laws(slab, air)
        self.moisture = np.linspace(0.0, 8.0, 4001)
        shape = diffusion(self.moisture, 303.15) / self.own["rate"]
        steps = 0.5 * (shape[1:] + shape[:-1]) * np.diff(self.moisture)
        self.potential = np.append(0.0, np.cumsum(steps))

    def warmth(self, kelvin):
        return self.own["rate"] * np.exp(-self.own["activation_kelvin"] * (1.0 / kelvin - 1.0 / 303.15))

    def of(self, moisture):
        return np.interp(moisture, self.moisture, self.potential)


def by_pypde(slab, air, cells, tolerance):
    """py-pde: Laplacian of the potential, its scipy solver (BDF)."""
    import pde

    law = Potential(slab, air)
    grid = pde.CartesianGrid([[0.0, 1.0]], cells)

    class Drying(pde.PDEBase):
        def evolution_rate(self, state, t=0):
            moisture, kelvin = np.maximum(state[0].data, 1e-6), float(state[1].data[0])
            edge = max(1.5 * moisture[-1] - 0.5 * moisture[-2], 1e-6)
            leaving, warming = law.surface(edge, kelvin, moisture.mean())
            warmth = law.warmth(kelvin)
            ends = {"x-": {"derivative": 0.0}, "x+": {"derivative": -leaving / warmth}}
            inside = pde.ScalarField(grid, law.of(moisture)).laplace(ends) * warmth
            return pde.FieldCollection([inside, pde.ScalarField(grid, warming)])

    state = pde.FieldCollection(
        [pde.ScalarField(grid, law.own["start"]), pde.ScalarField(grid, law.own["start_temperature"])]
    )
    kept = pde.MemoryStorage()
    Drying().solve(
        state, t_range=TIMES[-1], solver="scipy", method="BDF", rtol=tolerance, atol=0.1 * tolerance,
        backend="numpy", tracker=kept.tracker(TIMES[1] - TIMES[0]),
    )  # fmt: skip
    means = np.array([fields[0].mean() for fields in kept.data]) * law.own["solids_share"]
    return np.interp(TIMES, kept.times, means)  # its last moment is a step short


def by_fipy(slab, air, cells, steps):
    """FiPy: backward Euler in growing steps, three sweeps, evaporation as an implicit source of the last cell."""
    import fipy

    own, diffusion, surface = laws(slab, air)
    mesh = fipy.Grid1D(nx=cells, Lx=1.0)
    moisture = fipy.CellVariable(mesh=mesh, value=own["start"], hasOld=True)
    diffusivity, constant, rising = (fipy.CellVariable(mesh=mesh, value=0.0) for _ in range(3))
    equation = fipy.TransientTerm() == (
        fipy.DiffusionTerm(coeff=diffusivity.arithmeticFaceValue) + constant + fipy.ImplicitSourceTerm(coeff=rising)
    )

    def evaporation(last, kelvin, mean):
        """Moisture at the face, where the last half cell brings what the surface gives off, and the slope of both."""
        brings = 2.0 * cells * diffusion(last, kelvin)
        gap = lambda edge: surface(edge, kelvin, mean)[0] - brings * (last - edge)  # noqa: E731
        edge = brentq(gap, 1e-9, 20.0, xtol=1e-9)
        gives = (surface(1.001 * edge, kelvin, mean)[0] - surface(edge, kelvin, mean)[0]) / (0.001 * edge)
        return edge, brings * (last - edge), 1.0 / (1.0 / brings + 1.0 / max(gives, 1e-12))

    moments = TIMES[-1] * np.linspace(0.0, 1.0, steps + 1) ** 2
    kelvin, means = own["start_temperature"], [own["start"]]
    for length in np.diff(moments):
        moisture.updateOld()
        warm = kelvin
        for _ in range(3):
            values = np.maximum(moisture.value, 1e-6)
            edge, leaving, slope = evaporation(values[-1], warm, values.mean())
            warming = surface(edge, warm, values.mean())[1]
            stiff = (surface(edge, warm + 0.01, values.mean())[1] - warming) / 0.01
            warm += (kelvin + length * warming - warm) / (1.0 - length * stiff)  # a Newton step of the temperature
            constant.value = np.append(np.zeros(cells - 1), -cells * (leaving - slope * values[-1]))
            rising.value = np.append(np.zeros(cells - 1), -cells * slope)
            diffusivity.value = diffusion(values, warm)
            equation.sweep(moisture, dt=length)
        kelvin = warm
        means.append(moisture.value.mean())
    return np.interp(TIMES, moments, np.array(means)) * own["solids_share"]


def one_solve(peers):
    print("One solve, 48 h: error of the curve, CPU ms, times ours")
    for name, slab in (("unsalted", UNSALTED), ("salted", PIECE)):
        reference = exact(slab, WARM).moisture[0]
        jobs = {"ours, as it comes": lambda slab=slab: dry(slab, WARM, TIMES).moisture[0]}
        for tolerance in (1e-3, 3e-4, 1e-4):
            jobs[f"LSODA band, {tolerance:g}"] = lambda slab=slab, t=tolerance: lsoda(slab, WARM, t)
        for tolerance in (1e-3, 2e-4):
            jobs[f"BDF, {tolerance:g}"] = lambda slab=slab, t=tolerance: bdf(slab, WARM, t)
        errors = [worst(job(), reference) for job in jobs.values()]
        for label, error, spent in zip(jobs, errors, spent_list := cpu(*jobs.values()), strict=True):
            print(f"  {name:9} {label:20} {100 * error:6.2f} % {spent:9.1f} ms {spent / spent_list[0]:7.2f}")
        if peers and name == "unsalted":
            other = {
                "py-pde, 40 cells": lambda slab=slab: by_pypde(slab, WARM, 40, 1e-3),
                "py-pde, 80 cells": lambda slab=slab: by_pypde(slab, WARM, 80, 3e-4),
                "FiPy, 40 cells": lambda slab=slab: by_fipy(slab, WARM, 40, 400),
                "FiPy, 80 cells": lambda slab=slab: by_fipy(slab, WARM, 80, 1600),
            }
            for label, job in other.items():
                begin = time.process_time()
                error = worst(job(), reference)
                spent = 1e3 * (time.process_time() - begin)
                print(f"  {name:9} {label:20} {100 * error:6.2f} % {spent:9.1f} ms {spent / spent_list[0]:7.2f}")


def band():
    print("A band of 20 like pieces, times one piece")
    random = np.random.default_rng(0)
    for name, slab in (("unsalted", UNSALTED), ("salted", PIECE)):
        many = dataclasses.replace(
            slab, thickness=0.008 * np.exp(0.1 * random.normal(size=20)),
            diffusivity=3.4e-10 * np.exp(0.4 * random.normal(size=20)), dry_end=random.uniform(0.1, 0.4, 20),
        )  # fmt: skip
        one, twenty = cpu(lambda s=slab: dry(s, WARM, TIMES), lambda s=many: dry(s, WARM, TIMES), rounds=15)
        print(f"  {name:9} one {one:.1f} ms, twenty {twenty:.1f} ms: {twenty / one:.2f}")


def ensembles(draws):
    print(f"{draws} wide draws: error of the curve (50, 95, 100 %), of the drying time (95, 100 %), ms a member")
    for salted in (False, True):
        slab, air = wide_draws(draws, 20, salted)
        fine = dry(slab, air, TIMES, target=0.33, nodes=81, tolerance=2e-5, longest_step=3600.0)
        begin = time.process_time()
        usual = dry(slab, air, TIMES, target=0.33)
        each = 1e3 * (time.process_time() - begin) / draws
        curve = 100 * np.quantile(np.abs(usual.moisture / fine.moisture - 1.0).max(axis=1), [0.5, 0.95, 1.0])
        late = 100 * np.nanquantile(np.abs(usual.time_to_target / fine.time_to_target - 1.0), [0.95, 1.0])
        singles = range(0, draws, max(1, draws // 40))
        spent, off = [], []
        for member in singles:
            one, around = (
                dataclasses.replace(r, **{k: v[member] for k, v in vars(r).items() if np.ndim(v)}) for r in (slab, air)
            )
            begin = time.process_time()
            alone = lsoda(one, around, 1e-4)
            spent.append(1e3 * (time.process_time() - begin))
            off.append(worst(alone, fine.moisture[member]))
        print(
            f"  {'salted' if salted else 'unsalted':9} ours", *curve.round(2), "|", *late.round(2), f"| {each:.3f} ms"
        )
        print(
            f"  {'':9} LSODA alone",
            *(100 * np.quantile(off, [0.5, 0.95, 1.0])).round(2),
            f"| {np.mean(spent):.1f} ms",
            end="",
        )
        print(f", {np.mean(spent) / each:.0f} times ours")


def growth(many):
    print("Growth (salted wide draws)")
    for members in (1, 16, 64, 256, 1024, many):
        slab, air = wide_draws(members, 5, True)
        begin = time.process_time()
        dry(slab, air, TIMES)
        spent = 1e3 * (time.process_time() - begin)
        tracemalloc.start()
        result = dry(slab, air, TIMES)
        peak = tracemalloc.get_traced_memory()[1] / 1e6
        tracemalloc.stop()
        print(
            f"  {members:6} members {spent:9.1f} ms, {spent / members:7.3f} a member, {peak:6.1f} MB at most,", end=" "
        )
        print("all finite" if np.isfinite(result.moisture).all() else "NOT ALL FINITE")
    slab, air = wide_draws(256, 5, True)
    for nodes in (9, 17, 33, 65):
        one, several = cpu(
            lambda n=nodes: dry(PIECE, WARM, TIMES, nodes=n), lambda n=nodes: dry(slab, air, TIMES, nodes=n), rounds=3
        )
        print(f"  {nodes:3} nodes: one {one:6.1f} ms, of 256 {several / 256:6.3f} ms a member")
    for hours in (6, 24, 48, 96):
        times = HOUR * np.linspace(0.0, hours, 97)
        one, several = cpu(lambda t=times: dry(PIECE, WARM, t), lambda t=times: dry(slab, air, t), rounds=3)
        print(f"  {hours:3} hours: one {one:6.1f} ms, of 256 {several / 256:6.3f} ms a member")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="fewer draws")
    parser.add_argument("--peers", action="store_true", help="py-pde and FiPy as well")
    asked = parser.parse_args()
    one_solve(asked.peers)
    band()
    ensembles(200 if asked.quick else 1000)
    growth(2000 if asked.quick else 10_000)
