"""The reduced rooms of the bench room_step in numpy: float64, one array operation across all rooms after another.

Arguments: a file of float64, names with their counts of rows, steps. Prints the seconds of the fastest of three runs; the
file then holds every room's air temperature and humidity ratio after the last step.
"""

import math
import sys
import time

import numpy as np

path, names, steps = sys.argv[1], sys.argv[2], int(sys.argv[3])
counts = [(n.split()[0], int(n.split()[1])) for n in names.split(",")]
data = np.fromfile(path).reshape(sum(c for _, c in counts), -1)
rows = {}
place = 0
for name, count in counts:
    rows[name] = data[place : place + count].copy()
    place += count
one = {name: x[0] for name, x in rows.items() if len(x) == 1}
decay, moving, to_air = rows["decay"], rows["moving"], rows["to_air"]
held_lags = [rows[f"held_{c}"] for c in range(len(rows["direct_held"]))]
unit = one["unit"]
COIL_C = 14.0


def run():
    """All steps from the steady state at 10 degC outside."""
    drive = moving * 10.0 / (1.0 - decay)
    answer = np.zeros_like(drive)
    w = np.full(data.shape[1], 0.007)
    air = w
    for k in range(steps):
        hour, held = k / 4.0, float(k // 4)
        outdoor = (
            12.0 + 12.0 * math.sin(hour / 1400.0) + 6.0 * math.cos(2.0 * math.pi * (hour - 15.0) / 24.0)
        )
        if k % 4 == 0:
            sun = max(800.0 * math.sin(math.pi * (math.fmod(held, 24.0) - 6.0) / 12.0), 0.0)
            busy = 1.0 if 8.0 <= held % 24.0 < 18.0 else 0.05
            values = [sun] * (len(held_lags) - 1) + [one["gain_w"] * busy]
            direct = sum(f * u for f, u in zip(rows["direct_held"], values))
            by_held = sum(f * u for f, u in zip(held_lags, values))
            p = one["primary"] * busy
            flow = p + one["leak"] + one["transfer"]
            water = (
                p * 0.007 + one["leak"] * 0.009 + one["transfer"] * 0.008 + one["people"] * busy
            )
            z = flow * one["step_per_kg"]
            phi = -np.expm1(-z) / z
            driven = water * one["step_per_kg"]
            g = 1020.0 * flow
            damped = 1.0 + unit * g
            by_coil = unit * one["coil_w_per_k"]
        free = direct + one["direct_moving"] * outdoor + drive.sum(axis=0) + answer.sum(axis=0)
        drive = drive * decay + (by_held + moving * outdoor)
        gt = 1020.0 * (p * 14.0 + one["leak"] * outdoor + one["transfer"] * 22.0)
        start = free + unit * gt
        idle = start / damped
        wide = (start + by_coil * COIL_C) / (damped + by_coil)
        fall = idle - np.minimum(idle, np.maximum(one["cooling_set_c"], wide))
        highest = idle + unit * one["heating_w"] / damped
        rise = np.maximum(idle, np.minimum(one["heating_set_c"], highest)) - idle
        air = idle + (rise - fall)
        heat = (gt - g * air) + (rise - fall) * damped / unit
        answer = answer * decay + to_air * heat
        w = w + (driven - z * w) * phi
    return air, w


best = math.inf
for _ in range(3):
    begun = time.perf_counter()
    air, w = run()
    best = min(best, time.perf_counter() - begun)
np.concatenate([air, w]).tofile(path)
print(best)
