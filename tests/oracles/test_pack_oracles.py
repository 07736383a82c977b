"""Moisture gained through a pack, against stepwise integration that shares neither its pieces nor its closed forms.

The oracle integrates dw/dt = K (RH - aw(w)) for the water w in the pack by scipy's LSODA, with the water activity asked
of the isotherm at every step; the model walks the isotherm in pieces that it takes for straight.
"""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from flakeyard.models import keeping, sorption

DAY = keeping.DAY
CASES = {  # water activity at packing, humidity of the room, salt, fat, solids [kg in a pack], conductance [kg/s], °C
    "unsalted, damp room": (0.55, 0.80, 0.0, 0.02, 0.16, 3e-9, 25.0),
    "salted, below the plateau": (0.55, 0.72, 0.02, 0.01, 0.12, 3e-9, 25.0),
    "salted, over the plateau": (0.60, 0.85, 0.02, 0.01, 0.12, 8e-9, 25.0),
    "salted, drying over the plateau": (0.84, 0.50, 0.02, 0.01, 0.12, 8e-9, 25.0),
    "fatty, cold and tight": (0.70, 0.80, 0.008, 0.06, 0.10, 4e-10, 4.0),
    "warm": (0.50, 0.75, 0.01, 0.02, 0.15, 2e-8, 35.0),
}


def stepwise(parts, humidity, conductance, temperature, goal):
    """Seconds until the pack has come to a water activity, by LSODA."""
    start, salt, fat, solids = parts

    def gain(_, water):
        return conductance * (humidity - sorption.water_activity(water, salt, fat, solids, temperature))

    def reached(_, water):
        return water[0] - goal

    reached.terminal = True
    longest = 50.0 * abs(goal - start) / conductance
    found = solve_ivp(
        gain, (0.0, longest), [start], "LSODA", rtol=1e-8, atol=1e-12, events=reached, max_step=longest / 2000
    )
    return found.t_events[0][0]


@pytest.mark.parametrize("case", CASES.values(), ids=list(CASES))
@pytest.mark.parametrize("part", [0.3, 0.7, 0.9])
def test_moisture_through_a_pack_against_stepwise_integration(case, part):
    """Within 1 %: a thousand pieces. The plateau, where water rises and water activity does not, is part of the way."""
    packed, humidity, salt, fat, solids, conductance, temperature = case
    held = [
        float(sorption.water_for(activity, salt, fat, solids, temperature))
        for activity in (packed, packed + part * (humidity - packed))
    ]
    times, activity = keeping.moisture_course(
        np.array([held[0]]), salt, fat, solids, humidity, conductance, temperature, nodes=1000
    )
    goal = packed + part * (humidity - packed)
    order = np.argsort(activity[0])
    model = np.interp(goal, activity[0][order], times[0][order])
    assert model == pytest.approx(
        stepwise((held[0], salt, fat, solids), humidity, conductance, temperature, held[1]), rel=0.01
    )


def test_sixty_pieces_are_enough():
    """What a plan uses against a thousand pieces: within 5 % at nine tenths of the way."""
    for packed, humidity, salt, fat, solids, conductance, temperature in CASES.values():
        water = np.array([sorption.water_for(packed, salt, fat, solids, temperature)])
        goal, ends = packed + 0.9 * (humidity - packed), []
        for nodes in (60, 1000):
            times, activity = keeping.moisture_course(
                water, salt, fat, solids, humidity, conductance, temperature, nodes=nodes
            )
            order = np.argsort(activity[0])
            ends.append(np.interp(goal, activity[0][order], times[0][order]))
        assert ends[0] == pytest.approx(ends[1], rel=0.05)
