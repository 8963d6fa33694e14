"""What outdoor air alone decides in a year, from the weather file itself: water taken from ventilation air, hours of the
airside economizer, hours in which the tower carries a loop of 55 or 42 degF.

Usage: cargo run -q -p drycoil-year --example weather_sums | python3 weather_sums.py
Leaves with 0 when every quantile gate and every sum holds, 1 when one does not, 77 when the packages are missing.
"""

import csv
import sys
from pathlib import Path

from gates import judge, packages

np, pd, optimize, psychrolib = packages("numpy", "pandas", "scipy.optimize", "psychrolib")

WEATHER = Path(__file__).parents[2] / "examples" / "weather" / "greensboro-nc-tmy3.csv"
GATES = {
    # The same closed formula on both sides; rounding.
    "condensate, kg/kg": (1e-12, 1e-12, 1e-12),
    # Wet bulbs are rounded to 0.01 K here to save searches; at the freezing point the two wet bulbs, over ice and over
    # water, are not switched at the same temperature.
    "tower water, K": (3e-3, 8e-3, 0.4),
}


def main():
    mine = pd.read_csv(sys.stdin)
    psychrolib.SetUnitSystem(psychrolib.SI)
    rows = list(csv.reader(WEATHER.open()))
    head, rows = rows[1], rows[2:]
    column = {name: head.index(name) for name in ("Dry-bulb (C)", "Dew-point (C)", "Pressure (mbar)")}
    t = np.array([float(r[column["Dry-bulb (C)"]]) for r in rows])
    dew = np.array([float(r[column["Dew-point (C)"]]) for r in rows])
    p = float(mine.p_pa[0])
    # Humidity at the pressure of the hour; everything after at the pressure of the site.
    hourly = np.array([100.0 * float(r[column["Pressure (mbar)"]]) for r in rows])
    w = np.array([psychrolib.GetHumRatioFromTDewPoint(d, q) for d, q in zip(np.minimum(dew, t), hourly)])
    w = np.minimum(w, [psychrolib.GetSatHumRatio(x, p) for x in t])

    # Ventilation air dried to 48 degF.
    target = psychrolib.GetHumRatioFromTDewPoint((48 - 32) / 1.8, p)
    condensate = np.maximum(w - target, 0.0)

    # Fixed enthalpy of 47 kJ/kg with fixed dry bulb of 75 degF, against return air of 24 degC.
    h = 1006.0 * t + w * (2501e3 + 1860.0 * t)
    open_ = (t <= (75 - 32) / 1.8) & (h <= 47e3) & (t < 24.0)

    # Merkel's law by four points: 95/85/78 degF at a ratio of 1.2, then full heat at every wet bulb.
    h_s = lambda x: psychrolib.GetSatAirEnthalpy(x, p)
    f = lambda x: (x - 32) / 1.8
    rise = 10 / 1.8

    def size(cold, h_in):
        force = [h_s(cold + x * rise) - h_in - 1.2 * 4186.8 * x * rise for x in (0.1, 0.4, 0.6, 0.9)]
        return 1e9 if min(force) <= 0 else 4186.8 * rise / 4 * sum(1 / x for x in force)

    goal = size(f(85), h_s(f(78)))
    at = {}

    def cold(wet):
        key = round(wet, 2)
        if key not in at:
            h_in = h_s(key)
            at[key] = optimize.brentq(lambda x: 1 / size(x, h_in) - 1 / goal, key, key + 40.0, xtol=1e-8)
        return at[key]

    wet = [psychrolib.GetTWetBulbFromHumRatio(a, b, p) for a, b in zip(t, w)]
    tower = np.array([cold(x) for x in wet])

    failed = False
    for name, a, b, gate in (
        ("water taken from ventilation air", mine.condensate_kg_per_kg.sum(), condensate.sum(), 1e-9),
        ("hours of the airside economizer", mine.economizer_open.sum(), open_.sum(), 1e-3),
        ("hours of tower water for 55 degF", (mine.tower_c <= f(52)).sum(), (tower <= f(52)).sum(), 5e-3),
        ("hours of tower water for 42 degF", (mine.tower_c <= f(39)).sum(), (tower <= f(39)).sum(), 0.2),
    ):
        off = abs(a / b - 1.0)
        print(f"{'ok  ' if off <= gate else 'FAIL'} {name}: {a:.6g} against {b:.6g}, off by {off:.1e} (gate {gate:.0e})")
        failed |= not off <= gate
    if failed:
        sys.exit(1)
    judge(
        GATES,
        {"condensate, kg/kg": mine.condensate_kg_per_kg - condensate, "tower water, K": mine.tower_c - tower},
        8700,
    )


main()
