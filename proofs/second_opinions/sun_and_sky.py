"""Sun position, air mass and sun on tilted surfaces by the general-purpose library pvlib.

Usage: cargo run -q -p drycoil-sun --example sun_and_sky_states -- 5000 1 | python3 sun_and_sky.py
Leaves with 0 when every quantile gate holds, 1 when one does not, 77 when the packages are missing.
"""

import sys

try:
    import numpy as np
    import pandas as pd
    import pvlib
except ImportError as missing:
    print(f"missing Python package: {missing.name} (pip install pvlib==0.16.1)")
    sys.exit(77)

# Name: (gate on the 99 % quantile, gate on the largest difference), with the reason in the same row.
GATES = {
    # Both follow the same report; its stated uncertainty is 0.0003 deg. Azimuth is compared on the sphere.
    "zenith deg": (3e-4, 3e-4),
    "azimuth times sin(zenith), deg": (3e-4, 3e-4),
    "distance au": (1e-6, 1e-6),
    # The same closed forms: rounding only.
    "air mass": (1e-6, 1e-6),
    "beam W/m2": (1e-6, 1e-6),
    "isotropic W/m2": (1e-6, 1e-6),
    # The two write their low-sun limit as 0.01745 and cos(89 deg), 1.4e-4 apart.
    "hay davies W/m2": (1e-6, 0.05),
    "perez W/m2": (1e-6, 1e-6),
    "ground W/m2": (1e-6, 1e-6),
}


def main():
    d = pd.read_csv(sys.stdin)
    differences = {}
    # The library takes one place at a time, so the position is compared on the first 600 states only.
    first = d.head(600)
    days = pd.to_datetime(dict(year=first.year, month=first.month, day=first.day), utc=True)
    stamps = days + pd.to_timedelta(first.hour_utc, "h")
    rows = []
    for place, stamp in zip(first.itertuples(), stamps):
        at = pd.DatetimeIndex([stamp])
        s = pvlib.solarposition.spa_python(at, place.latitude, place.longitude, altitude=place.elevation, delta_t=67.0)
        rows.append((s.zenith.iloc[0], s.azimuth.iloc[0], pvlib.solarposition.nrel_earthsun_distance(at, delta_t=67.0).iloc[0]))
    zenith, azimuth, distance = np.array(rows).T
    differences["zenith deg"] = first.zenith - zenith
    turn = (first.azimuth - azimuth + 180.0) % 360.0 - 180.0
    differences["azimuth times sin(zenith), deg"] = turn * np.sin(np.radians(zenith))
    differences["distance au"] = first.distance - distance

    # The sky, with this program's own sun, so that the models alone are compared; sun above the horizon.
    up = d[d.zenith < 90.0]
    i = pvlib.irradiance
    mass = pvlib.atmosphere.get_relative_airmass(up.zenith, model="kastenyoung1989")
    cosine = i.aoi_projection(up.tilt, up.surface_azimuth, up.zenith, up.azimuth)
    differences["air mass"] = up.air_mass - mass
    differences["beam W/m2"] = up.beam - up.dni * np.maximum(cosine, 0.0)
    differences["isotropic W/m2"] = up.isotropic - i.isotropic(up.tilt, up.dhi)
    differences["hay davies W/m2"] = up.hay_davies - i.haydavies(
        up.tilt, up.surface_azimuth, up.dhi, up.dni, up.e0, up.zenith, up.azimuth
    )
    differences["perez W/m2"] = up.perez - i.perez(
        up.tilt, up.surface_azimuth, up.dhi, up.dni, up.e0, up.zenith, up.azimuth, mass
    )
    differences["ground W/m2"] = up.ground - i.get_ground_diffuse(up.tilt, up.ghi, albedo=0.2)

    failed = False
    for name, difference in differences.items():
        size = np.abs(np.asarray(difference, dtype=float))
        q99, largest = np.quantile(size, 0.99), size.max()
        gate99, gate = GATES[name]
        holds = q99 <= gate99 and largest <= gate
        failed |= not holds
        print(f"{'ok  ' if holds else 'FAIL'} {name}: {len(size)} states, 99 % {q99:.2e} (gate {gate99:.0e}), largest {largest:.2e} (gate {gate:.0e})")
    sys.exit(1 if failed else 0)


main()
