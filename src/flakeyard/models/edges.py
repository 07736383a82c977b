"""Strips and rods dry through their edges too: the slab that takes the same time, and the surface they really have.

A strip has a short way through its thickness and a longer one through half its width. Inside it dries like a slab
whose half thickness is a little less than its own: by the rule of the slowest mode (exponent 2) it would be too slow,
because a strip also gains before that mode has taken over; by surface over volume (exponent 1) too quick. The exponent
was chosen on solutions in two directions (tests/oracles/test_edge_oracles.py). The air, though, meets the whole surface
of the strip, which is more than that slab has: film and radiation count as many times more. Left out, that costs 10 %.
"""

from flakeyard.models.inputs import Numbers, Range, checked
from flakeyard.models.salt_profile import checked_or_endless

EDGE_EXPONENT = 1.6  # edges_computed: falling diffusivity, isotherm, film and one temperature
ROD_SHARE = 0.62  # of the diameter, edges_computed: 0.617 to 0.620 for rods of 6 to 20 mm

edges_range = Range(
    "edges",
    {"thickness": (0.005, 0.013, "m"), "width": (0.013, 0.040, "m")},
    "2 % of the time (4 % at worst) for long strips; short sticks dry up to a fifth sooner than said; no crowding",
    "edges_computed",
)


def edged_thickness(thickness: Numbers, faces: Numbers, width: Numbers) -> Numbers:
    """Thickness of the slab, with the same faces open, that dries inside like a long strip.

    Parameters:
        thickness : float or array – of the strip [m], allowed 1e-5–1
        faces : float or array – that dry: 2 on a mesh, 1 on a tray or over skin; both edges dry [-], allowed 1–2
        width : float or array – of the strip [m], allowed 1e-5 and above, inf for a slab
    Returns: float or array – thickness, at most that of the strip [m]
    Equation: h = (L^-1.6 + B^-1.6)^(-1/1.6), L = thickness / faces, B = width / 2; thickness = h faces
    Valid for: `edges_range`, with the film of `surface_per_volume`
    Raises: ValueError when an input is impossible
    Source: edges_computed
    """
    open_faces = checked("faces", faces, 1.0, 2.0)
    through = checked("thickness", thickness, 1e-5, 1.0)
    slender = 2.0 * through / (open_faces * checked_or_endless("width", width, 1e-5))
    return (through * (1.0 + slender**EDGE_EXPONENT) ** (-1.0 / EDGE_EXPONENT))[()]


def surface_per_volume(thickness: Numbers, faces: Numbers, width: Numbers) -> Numbers:
    """Drying surface of a strip over its volume.

    Parameters:
        thickness : float or array – of the strip [m], allowed 1e-5–1
        faces : float or array – that dry; both edges dry as well [-], allowed 1–2
        width : float or array – of the strip [m], allowed 1e-5 and above, inf for a slab
    Returns: float or array – surface per volume [m2/m3]
    Equation: faces / thickness + 2 / width
    Valid for: long strips that do not touch
    Raises: ValueError when an input is impossible
    Source: judgement (geometry, no measured constant)
    """
    open_faces = checked("faces", faces, 1.0, 2.0)
    through = checked("thickness", thickness, 1e-5, 1.0)
    return (open_faces / through + 2.0 / checked_or_endless("width", width, 1e-5))[()]


def rod_thickness(diameter: Numbers) -> Numbers:
    """Thickness of the slab, both faces open, that dries inside like a long rod; film and radiation count 1.24 times.

    Parameters:
        diameter : float or array – of the rod [m], allowed 1e-5–1
    Returns: float or array – thickness [m]
    Equation: 0.62 d; a rod has 2 x 0.62 times the surface of that slab
    Valid for: rods of 6–20 mm with air all round; a skin that holds water back is not in it
    Raises: ValueError when the diameter is impossible
    Source: edges_computed
    """
    return (ROD_SHARE * checked("diameter", diameter, 1e-5, 1.0))[()]
