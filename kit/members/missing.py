"""Values of the material that a load case needs and that are not known: said by name, never guessed."""

from __future__ import annotations

from kit.members.cases import LoadCase
from kit.members.materials import Material


def missing(case: LoadCase, material: Material) -> tuple[str, ...]:
    """Keys of the caveats that block a load case, each naming the value to give.

    Timber's shear modulus, its strength across the grain and the 5 % fractile of its modulus do not follow
    from other values as they do where a material is isotropic and ductile. A flexural test tells no tensile
    strength.

    Parameters
    ----------
    case : LoadCase
    material : Material
    """
    keys = _of_timber(case, material) if not material.isotropic else ()
    pulled = case.kind in ("tension", "torsion") and material.yield_tension_MPa is None
    return (*keys, "tensile-strength-missing") if pulled else keys


def _of_timber(case: LoadCase, material: Material) -> tuple[str, ...]:
    bends = case.kind == "bending"
    moves = case.kind == "compression" or (bends and case.restraint != "sideways-and-twist")
    deflects = bends and case.deflection_limit is not None
    pressed = bends and case.bearing_length_mm is not None
    needed = (
        ("shear-modulus-missing", material.shear_modulus_MPa, moves or deflects),
        ("modulus-5-percent-missing", material.modulus_5_percent_MPa, moves),
        ("shear-strength-missing", material.shear_strength_MPa, bends),
        ("bearing-strength-missing", material.bearing_strength_MPa, pressed),
    )
    return tuple(key for key, value, used in needed if used and value is None)
