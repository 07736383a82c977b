"""Split cod, heavily dry-salted and dried in a tunnel to the moisture of the trade: hours beside those of the trade.

salt_cod_tunnel (read): wet-salted cod at 18-21 °C and 45-80 % humidity takes 48 to 96 h by size, rests included. Not told
are thickness, air speed and the end, 47 % of water (from memory); 57 % of water and 19 % of salt before (as computed for
heavily salted cod). So much is open that the trade fixes no parameter. What it can do is refuse one: a slowing by salt
that goes on beyond the 10 % at which it was measured. Run this file by itself for the numbers.
"""

from functools import cache

import numpy as np
from test_drying_data import Case

from flakeyard import tables
from flakeyard.models import drying_physics, moist_air, slab_drying

TRADE = (48.0, 96.0)  # h
WATER, SALT, FAT, END = 0.57, 0.19, 0.004, 0.47
LONGEST = 3000.0 * 3600.0
NO_CAP = 1.0  # kg/kg
SIZES = {"mean over a split fish": ((12.0, 30.0), (1.5, 2.0)), "thick part": ((20.0, 40.0), (1.0, 2.0))}  # mm, faces
OPEN = {
    "water_low": WATER, "water_high": WATER, "salt_low": SALT, "salt_high": SALT, "fat_low": FAT, "fat_high": FAT,
    "temperature_low": 18, "temperature_high": 21, "humidity_low": 0.45, "humidity_high": 0.75,
    "native_low": 0.0, "native_high": 0.3,
}  # fmt: skip


@cache
def hours(size, cap=None, studies=False):
    """Hours of drying from 57 to 47 % of water (members,); ``cap`` – of the salt that slows; air damper than 75 % dries
    no salted fish, so the humidity ends there."""
    (thin, thick), (least, most) = SIZES[size]
    row = {name: str(value) for name, value in OPEN.items()}
    row |= {
        "thickness_mm_low": str(thin),
        "thickness_mm_high": str(thick),
        "faces_low": str(least),
        "faces_high": str(most),
    }
    row |= {"faces": "2"}
    pace = 1.0
    if studies:
        pace = Case(row).draws.lognormal("study", 1.0, tables.study_term("drying hours").sd)
    case = Case(row, drying_rate=pace)
    slab = vars(case.slab()) | {"faces": case.between("faces")} | ({} if cap is None else {"salt_cap": cap})
    warm = case.between("temperature")
    damp = moist_air.humidity_ratio(warm, case.between("humidity"), moist_air.STANDARD_PRESSURE)
    speed = case.draws.uniform("tunnel", 1.0, 3.0)
    air = slab_drying.Air(warm, damp, speed, film_factor=pace, radiation=pace * slab_drying.Air.radiation)
    dry_matter = 1.0 - END
    found = slab_drying.dry(slab_drying.Slab(**slab), air, [0.0, LONGEST], target=END / dry_matter, stop=True)
    return np.nan_to_num(found.time_to_target / 3600.0, nan=np.inf)


def band(*told, **more):
    return np.quantile(hours(*told, **more), (0.1, 0.5, 0.9), method="higher")


def share_in_trade(*told):
    found = hours(*told)
    return float(np.mean((found >= TRADE[0]) & (found <= TRADE[1])))


def test_hours_of_the_trade_lie_inside_the_band():
    low, middle, high = band("mean over a split fish")
    assert low <= TRADE[0] and high >= TRADE[1] and middle < 1.5 * TRADE[1]


def test_without_a_cap_on_the_slowing_by_salt_they_would_not_be_met_so_well():
    capped, uncapped = (share_in_trade("mean over a split fish", cap) for cap in (None, NO_CAP))
    assert capped > 2 * uncapped
    assert band("mean over a split fish", NO_CAP)[1] > 1.5 * TRADE[1]


def test_thickness_matters_more_than_any_cap():
    sizes = [band(size)[1] for size in SIZES]
    low, high = drying_physics.SALT_CAP_BAND
    caps = [band("mean over a split fish", cap)[1] for cap in (low, high)]
    assert sizes[1] / sizes[0] > caps[1] / caps[0]


if __name__ == "__main__":
    for size in SIZES:
        for name, told in (("as drawn", {}), ("with other studies", {"studies": True}), ("no cap", {"cap": NO_CAP})):
            print(f"{size:24} {name:20} {' '.join(f'{one:7.0f}' for one in band(size, **told))} h")
    print(
        "share of draws in 48-96 h:",
        share_in_trade("mean over a split fish"),
        share_in_trade("mean over a split fish", NO_CAP),
    )
