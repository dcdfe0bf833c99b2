"""Materials and a service for the tests of members."""

import pytest

from kit.members import ownweight
from kit.members.materials import Material, Service, Spread
from tests.members import sections_by_hand as by_hand


def plain(E=210000.0, f=235.0, **changes):
    """A ductile metal-like material with round numbers."""
    values = {
        "key": "plain", "name": "plain", "family": "steel", "density_kg_m3": 7850.0,
        "youngs_modulus_MPa": Spread(E), "poissons_ratio": 0.3,
        "yield_tension_MPa": Spread(f), "yield_compression_MPa": Spread(f),
    }  # fmt: skip
    return Material(**(values | changes))


@pytest.fixture
def short():
    return Service("short-term test", 23.0)


@pytest.fixture
def steel():
    return plain()


@pytest.fixture
def sections():
    return by_hand.table(
        upright=by_hand.rectangle(20.0, 60.0),
        flat=by_hand.rectangle(60.0, 20.0),
        bar=by_hand.tube(40.0),
        pipe=by_hand.tube(80.0, 70.0),
        beam=by_hand.i_section(100.0, 100.0, 12.0, 12.0),
        aside=by_hand.i_section(100.0, 100.0, 12.0, 12.0, on_side=True),
    )


@pytest.fixture
def gravity():
    """Asked for by tests of members that have weight."""


@pytest.fixture(autouse=True)
def without_gravity(request, monkeypatch):
    """Handbooks' closed forms and the powers of scale know no own weight: here nothing has any, but where asked."""
    if "gravity" not in request.fixturenames:
        monkeypatch.setattr(ownweight, "GRAVITY_N_per_kg", 0.0)
