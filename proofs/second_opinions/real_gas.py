"""Moist air as a real gas by the general-purpose library CoolProp.

The program uses the ideal-gas equations of the handbook; real air holds 0.4 to 0.7 % more vapour at saturation. The
gates state that difference, and a least difference sees to it that it is really compared.

Usage: cargo run -q -p drycoil-proofs --example second_opinion_states -- moist_air 2000 2 | python3 real_gas.py
Leaves with 0 when every quantile gate holds, 1 when one does not, 77 when the packages are missing.
"""

import sys

from gates import judge, packages

np, pd, _ = packages("numpy", "pandas", "CoolProp")
from CoolProp.HumidAirProp import HAPropsSI  # noqa: E402

# Name: gates on the median, the 99 % quantile and the largest difference, with the reason.
GATES = {
    # Enhancement factor of real gas: 0.4 % near 0 degC, 0.7 % at 55 degC.
    "saturation humidity ratio, relative": (6e-3, 7.5e-3, 8e-3),
    # The same vapour in both; virial terms and specific heats.
    "enthalpy, relative to 20 kJ/kg and more": (1e-3, 5e-3, 6e-3),
    # Compressibility of moist air: 0.03 % to 0.1 %.
    "volume, relative": (6e-4, 1e-3, 1.3e-3),
    # 0.4 to 0.7 % of vapour at a slope of 6 % per K.
    "dew point K": (8e-2, 1.2e-1, 1.4e-1),
    "wet bulb K": (6e-2, 1.1e-1, 1.3e-1),
}


def main():
    d = pd.read_csv(sys.stdin)
    d = d[(d.t_c > 1.0) & (d.t_c < 55.0) & (d.dew_point_c > 1.0) & (d.wet_bulb_c > 1.0)]
    rows = []
    for s in d.itertuples():
        k = s.t_c + 273.15
        rows.append(
            (
                HAPropsSI("W", "T", k, "P", s.p_pa, "R", 1.0),
                HAPropsSI("Hda", "T", k, "P", s.p_pa, "W", s.w),
                HAPropsSI("Vda", "T", k, "P", s.p_pa, "W", s.w),
                HAPropsSI("D", "T", k, "P", s.p_pa, "W", s.w) - 273.15,
                HAPropsSI("B", "T", k, "P", s.p_pa, "W", s.w) - 273.15,
            )
        )
    w_s, h, v, dew, wet = np.array(rows).T
    saturation = d.w_s / w_s - 1.0
    if np.median(-saturation) < 3e-3:
        print("FAIL real gas should hold at least 0.3 % more vapour than the ideal-gas equations give")
        sys.exit(1)
    judge(
        GATES,
        {
            "saturation humidity ratio, relative": saturation,
            "enthalpy, relative to 20 kJ/kg and more": (d.h_j_per_kg - h) / np.maximum(np.abs(h), 20e3),
            "volume, relative": d.v_m3_per_kg / v - 1.0,
            "dew point K": d.dew_point_c - dew,
            "wet bulb K": d.wet_bulb_c - wet,
        },
        500,
    )


main()
