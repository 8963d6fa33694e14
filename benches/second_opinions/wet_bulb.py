"""Wet bulb from dry bulb and relative humidity by the general-purpose library psychrolib, in its fastest vectorised form.

Usage: wet_bulb.py STATES SEED. The states are those of the bench moist_air (same generator, same order).
Leaves with code 77 when the packages are missing: pip install psychrolib==2.5.0 numba numpy
"""

import sys
import time

try:
    import numba
    import numpy as np
    import psychrolib
except ImportError as missing:
    print(f"missing Python package: {missing.name} (pip install psychrolib==2.5.0 numba numpy)")
    sys.exit(77)


@numba.njit(cache=False)
def states_of(count, seed):
    t = np.empty(count)
    rh = np.empty(count)
    p = np.empty(count)
    state = np.uint64(seed)
    i = 0
    while i < count:
        u = np.empty(3)
        for j in range(3):
            state = state + np.uint64(0x9E3779B97F4A7C15)
            z = state
            z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
            z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
            u[j] = float((z ^ (z >> np.uint64(31))) >> np.uint64(11)) / 9007199254740992.0
        t[i] = -60.0 + 150.0 * u[0]
        rh[i] = 0.01 + 0.99 * u[1]
        p[i] = 60e3 + 48e3 * u[2]
        i += 1
    return t, rh, p


def main():
    count, seed = int(sys.argv[1]), int(sys.argv[2])
    # The library iterates to a tolerance of 0.001 K; ours goes to 1e-9 in W. A tenth of the states is enough for a
    # time per state.
    count = max(count // 10, 1)
    psychrolib.SetUnitSystem(psychrolib.SI)
    t, rh, p = states_of(count, seed)
    form = "its own numba form"
    vectorised = psychrolib.GetTWetBulbFromRelHum
    saturation = psychrolib.GetSatVapPres
    exists = rh * saturation(t) < 0.9 * p
    t, rh, p = t[exists], rh[exists], p[exists]
    vectorised(t[:1000], rh[:1000], p[:1000])
    times = []
    for _ in range(5):
        start = time.perf_counter()
        vectorised(t, rh, p)
        times.append((time.perf_counter() - start) * 1e9 / len(t))
    times.sort()
    name = f"psychrolib, {form} ({len(t)} states)"
    print(f"{name:<44} min {times[0]:6.1f}  median {times[2]:6.1f} ns a state")


if __name__ == "__main__":
    main()
