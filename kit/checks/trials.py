"""Published values of test evaluation, recomputed: EN 1990 Annex D, ISO 178, ASTM D790."""

from __future__ import annotations

from functools import partial

from kit.checks import checks_by
from kit.trials import annex_d, coupons

PREDICTED = (100.0, 150.0, 200.0, 250.0, 300.0)
MEASURED = (110.0, 153.0, 222.0, 255.0, 336.0)
SAMPLE = (52.1, 49.8, 51.3, 50.4, 53.0, 48.9)
MANY = 10**9

checks_by(
    {f"D1-known-{n}": partial(annex_d.fractile_factor, n, known=True) for n in (1, 2, 3, 4, 5, 6, 10, 20, 30)}
)
checks_by({f"D1-unk-{n}": partial(annex_d.fractile_factor, n) for n in (3, 4, 5, 8, 20, 30)})
checks_by({"D1-inf": partial(annex_d.fractile_factor, MANY, known=True)})
checks_by({f"D2-known-{n}": partial(annex_d.fractile_factor, n, 0.001, True) for n in (4, 5, 8, 10)})
checks_by({f"D2-unk-{n}": partial(annex_d.fractile_factor, n, 0.001) for n in (5, 6, 8, 10, 20, 30)})


def _corrected() -> annex_d.Correction:
    return annex_d.correction(MEASURED, PREDICTED)


def _factors() -> annex_d.Factors:
    return annex_d.resistance_factors(_corrected().v_delta, 0.08, (2.33, 7.85), (1.64, 3.04))


checks_by(
    {
        "D8-b": lambda: _corrected().b,
        "D8-Dbar": lambda: _corrected().mean_delta,
        "D8-Vd": lambda: _corrected().v_delta,
        "D8-Vr": lambda: annex_d.total_variation(_corrected().v_delta, 0.08),
        "D8-rk": lambda: _factors().characteristic,
        "D8-rd": lambda: _factors().design,
        "D8-gM": lambda: _factors().gamma_m,
        "D7-Xk-norm": lambda: annex_d.characteristic_normal(SAMPLE, 2.18),
        "D7-Xk-log": lambda: annex_d.characteristic_lognormal(SAMPLE, 2.18),
    }
)

SPAN, WIDTH, DEPTH = 51.2, 12.7, 3.2
checks_by(
    {
        "FLX-ISO-s1": lambda: coupons.deflection_at(0.0005, 64.0, 4.0),
        "FLX-ISO-s2": lambda: coupons.deflection_at(0.0025, 64.0, 4.0),
        "FLX-ISO-sc": lambda: coupons.deflection_at(coupons.ISO_178_CONVENTIONAL, 64.0, 4.0),
        "FLX-ISO-E": lambda: coupons.iso_178_modulus(1.30, 6.10),
        "FLX-D790-R": lambda: coupons.d790_rate(SPAN, DEPTH),
        "FLX-D790-sig": lambda: coupons.flexural_stress(150.0, SPAN, WIDTH, DEPTH),
        "FLX-D790-sigL": lambda: coupons.large_span_stress(150.0, 5.0, SPAN, WIDTH, DEPTH),
        "FLX-D790-eps": lambda: coupons.flexural_strain(5.0, SPAN, DEPTH),
        "FLX-D790-E": lambda: coupons.tangent_modulus(30.0, SPAN, WIDTH, DEPTH),
    }
)
