"""Moist air by the general-purpose library PsychroLib: the same ideal-gas equations, so rounding and the stop of its
iterations only.

Usage: cargo run -q -p drycoil-proofs --example second_opinion_states -- moist_air 20000 1 | python3 moist_air.py
Leaves with 0 when every quantile gate holds, 1 when one does not, 77 when the packages are missing.
"""

import sys

from gates import judge, packages

np, pd, psychrolib = packages("numpy", "pandas", "psychrolib")

# Name: gates on the median, the 99 % quantile and the largest difference, with the reason.
GATES = {
    # The same correlation, ice and water joined at the triple point in both.
    "saturation pressure, relative": (1e-13, 1e-12, 1e-11),
    "humidity ratio": (1e-12, 1e-12, 1e-12),
    # 1.006, 2501 and 1.86 in both.
    "enthalpy J/kg": (1e-8, 1e-6, 1e-6),
    # The same constants.
    "volume, relative": (1e-12, 1e-12, 1e-12),
    "density, relative": (1e-12, 1e-12, 1e-12),
    # The library stops its iteration at 0.001 K.
    "dew point K": (1e-3, 2e-3, 2e-3),
    "wet bulb K": (1e-3, 2e-3, 2e-3),
    # No iteration here: the library's humidity ratio at the program's own wet bulb and dew point.
    "humidity ratio at our wet bulb": (1e-9, 1e-9, 1e-9),
    "humidity ratio at our dew point": (1e-9, 1e-9, 1e-9),
}


def main():
    d = pd.read_csv(sys.stdin)
    psychrolib.SetUnitSystem(psychrolib.SI)
    p = psychrolib
    rows = []
    for s in d.itertuples():
        w = p.GetHumRatioFromRelHum(s.t_c, s.rh, s.p_pa)
        rows.append(
            (
                p.GetSatVapPres(s.t_c),
                w,
                p.GetMoistAirEnthalpy(s.t_c, w),
                p.GetMoistAirVolume(s.t_c, w, s.p_pa),
                p.GetMoistAirDensity(s.t_c, w, s.p_pa),
                p.GetHumRatioFromTWetBulb(s.t_c, s.wet_bulb_c, s.p_pa),
                p.GetHumRatioFromTDewPoint(s.dew_point_c, s.p_pa),
            )
        )
    p_ws, w, h, v, rho, w_wb, w_dp = np.array(rows).T
    # Its iterations are slow, so the first 4000 states only.
    few = d.head(4000)
    dew = [p.GetTDewPointFromHumRatio(s.t_c, s.w, s.p_pa) for s in few.itertuples()]
    wet = [p.GetTWetBulbFromHumRatio(s.t_c, s.w, s.p_pa) for s in few.itertuples()]
    # Near freezing the same air has a wet bulb over water above 0 degC and one over ice below; both balance. The
    # program gives the first and keeps the second apart; the library gives either.
    wet = np.array(wet)
    on_ice = (wet < 0.0) & (few.wet_bulb_c.to_numpy() >= 0.0)
    if on_ice.mean() > 0.01:
        print(f"FAIL {on_ice.sum()} wet bulbs on ice where the program has water")
        sys.exit(1)
    ours = np.where(on_ice, few.wet_bulb_on_ice_c, few.wet_bulb_c)
    steady = d.wet_bulb_c.abs() > 0.001
    judge(
        GATES,
        {
            "saturation pressure, relative": d.p_ws_pa / p_ws - 1.0,
            "humidity ratio": d.w - w,
            "enthalpy J/kg": d.h_j_per_kg - h,
            "volume, relative": d.v_m3_per_kg / v - 1.0,
            "density, relative": d.density / rho - 1.0,
            "dew point K": few.dew_point_c - dew,
            "wet bulb K": ours - wet,
            "humidity ratio at our wet bulb": (d.w - w_wb)[steady],
            "humidity ratio at our dew point": d.w - w_dp,
        },
        3000,
    )


main()
