"""Edges of strips and rods: limits of the rule, what is refused, and a box that meets the whole surface."""

from dataclasses import replace as changed

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from flakeyard.models import edges
from flakeyard.models.drying_physics import SlabInAir
from flakeyard.models.inputs import outside
from flakeyard.models.slab_drying import Air, Box, Slab, dry

HOUR = 3600.0
TIMES = HOUR * np.linspace(0.0, 24.0, 49)
STRIP = Slab(thickness=0.006, faces=2, water=0.77, salt=0.02, fat=0.03, solids=0.18, width=0.025)
WARM = Air(temperature=63.0, humidity_ratio=0.0073, velocity=1.0)
DRYER = Box(
    heater=600.0, set_temperature=63.0, fresh_air=0.006, load=2.0,
    room_temperature=20.0, room_humidity_ratio=0.0073, velocity=1.0,
)  # fmt: skip

thicknesses, widths = st.floats(0.003, 0.02), st.floats(0.003, 0.2)


@given(thicknesses, widths, st.sampled_from([1, 2]))
def test_a_strip_lies_between_its_slowest_mode_and_its_surface(thickness, width, faces):
    depth, aside = thickness / faces, width / 2.0
    found = edges.edged_thickness(thickness, faces, width) / faces
    assert 1.0 / (1.0 / depth + 1.0 / aside) <= found <= (depth**-2 + aside**-2) ** -0.5
    assert found <= depth


@given(thicknesses, widths)
def test_thickness_and_width_may_change_places_on_a_mesh(thickness, width):
    turned = edges.edged_thickness(width, 2, thickness)
    assert edges.edged_thickness(thickness, 2, width) == pytest.approx(turned, rel=1e-12)


def test_a_slab_has_no_edges():
    assert edges.edged_thickness(0.008, 2, np.inf) == 0.008
    assert edges.surface_per_volume(0.008, 1, np.inf) == 125.0
    endless, wide = (dry(changed(STRIP, width=width), WARM, TIMES).moisture for width in (np.inf, 1e5))
    np.testing.assert_allclose(endless, wide, rtol=1e-6)


def test_by_hand():
    """6 x 25 mm on a mesh: (3^-1.6 + 12.5^-1.6)^(-1/1.6) = 2.82 mm, twice that; 2/6 + 2/25 per mm; a 10 mm rod."""
    assert edges.edged_thickness(0.006, 2, 0.025) == pytest.approx(0.00565, abs=1e-5)
    assert edges.surface_per_volume(0.006, 2, 0.025) == pytest.approx(413.3, abs=0.1)
    assert edges.rod_thickness(0.010) == pytest.approx(0.0062, abs=1e-9)


def test_narrower_strips_dry_sooner():
    widths = np.array([0.012, 0.025, 0.05, np.inf])
    hours = dry(changed(STRIP, width=widths), WARM, TIMES, target=0.3).time_to_target
    assert np.all(np.diff(hours) > 0.0)


def test_a_box_gives_off_what_the_whole_surface_of_the_load_does():
    """Water in fresh air = water lost by the load, strip or slab: G (W - Wroom) = -load d(mass)/dt, over two hours."""
    result = dry(STRIP, DRYER, HOUR * np.linspace(1.0, 3.0, 81))
    carried = DRYER.fresh_air * (result.air_humidity_ratio[0] - DRYER.room_humidity_ratio)
    lost = DRYER.load * (result.mass_ratio[0, 0] - result.mass_ratio[0, -1])
    assert np.trapezoid(carried, result.times) == pytest.approx(lost, rel=5e-3)


def test_a_load_of_strips_wets_the_air_more_than_a_load_of_slabs():
    strips, slabs = (dry(changed(STRIP, width=width), DRYER, TIMES) for width in (0.012, np.inf))
    assert strips.air_humidity_ratio[0, 4] > slabs.air_humidity_ratio[0, 4]
    told = changed(DRYER, load_width=np.inf, load_thickness=0.006, load_faces=2)
    assert dry(STRIP, told, TIMES).air_humidity_ratio[0, 4] < dry(STRIP, DRYER, TIMES).air_humidity_ratio[0, 4]


def test_surface_of_the_piece_over_its_slab():
    rim = SlabInAir(changed(STRIP, width=np.array([0.006, 0.025, np.inf])), WARM).rim[:, 0]
    assert rim == pytest.approx([2.0 / 2.0 ** (1 / 1.6), 1.167, 1.0], abs=1e-3)


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: edges.edged_thickness(0.0, 2, 0.02), "thickness"),
        (lambda: edges.edged_thickness(0.006, 3, 0.02), "faces"),
        (lambda: edges.edged_thickness(0.006, 2, np.nan), "width"),
        (lambda: edges.surface_per_volume(0.006, 2, 0.0), "width"),
        (lambda: edges.rod_thickness(-0.01), "diameter"),
        (lambda: dry(changed(STRIP, width=-0.02), WARM, TIMES), "width"),
        (lambda: dry(STRIP, changed(DRYER, load_width=0.0), TIMES), "load_width"),
        (lambda: dry(changed(STRIP, salt_cap=1.5), WARM, TIMES), "salt_cap"),
        (lambda: dry(changed(STRIP, native=-0.5), WARM, TIMES), "native"),
    ],
)
def test_impossible_input_is_refused_by_name(call, named):
    with pytest.raises(ValueError, match=rf"^{named} "):
        call()


def test_what_was_not_tested_is_said():
    assert outside(edges.edges_range, thickness=0.006, width=0.025) == ()
    assert "width" in outside(edges.edges_range, thickness=0.006, width=0.1)[0]
