"""Electricity and heat of both schemes by hand, made again after the first find: from the weather file, the profile
`meeting`, the room list and the defaults that PROJECT_FORMAT.md prints; nothing of the program is run or read. MWh a year.

Run from the root of the repository: python3 examples/assembly-halls/estimate.py
"""

import csv
import math

# Use by hour of a weekday (crates/intake/data/profiles.csv).
PEOPLE = [0] * 8 + [0.3, 1, 1, 1, 0.2, 1, 1, 1, 1, 0.3] + [0] * 6
rooms = list(csv.DictReader(open("examples/assembly-halls/rooms.csv")))
people = sum(float(r["people"]) for r in rooms)
floor_ft2 = sum(float(r["floor_area [ft2]"]) for r in rooms)
light_kw = sum(float(r["floor_area [ft2]"]) * float(r["lighting [W/ft2]"]) for r in rooms) / 1e3
sensible_kw, latent_kw = people * 0.072, people * 0.031  # 245 and 105 Btu/h each
peak = sensible_kw + light_kw

CFM = 1.204 / 2119  # kg/s of standard air in a cfm
vent = people * 20 * CFM  # decoupled, constant
code = (people * 5 + floor_ft2 * 0.06) * CFM / 0.75  # all-air, by the simplified multiple-zone method
supply = max(peak * 1.1 / (1.006 * 11.2), 1.5 * code * 0.75)

lines = list(csv.reader(open("examples/weather/greensboro-nc-tmy3.csv")))[1:]
T, D = lines[0].index("Dry-bulb (C)"), lines[0].index("Dew-point (C)")


def enthalpy(t, dew_c):
    w = 0.622 / (98000 / (610.94 * math.exp(17.625 * dew_c / (dew_c + 243.04))) - 1)
    return 1.006 * t + w * (2501 + 1.86 * t)


room_h, supply_h = 46.0, 33.0  # kJ/kg: 24 degC, 50 %; air of 13 degC leaving a coil at 12 degC
cold = [0.0, 0.0]  # kWh to chillers: all-air, decoupled
heat = 0.0
running = in_use = fans_all_air = 0
for i, row in enumerate(lines[1:]):
    hour, weekday = i % 24, i // 24 % 7 < 5
    # Two hours of start-up before the people.
    if not (weekday and 6 <= hour < 18):
        continue
    p = PEOPLE[hour]
    running += 1
    in_use += p > 0
    t, h = float(row[T]), enthalpy(float(row[T]), float(row[D]))
    gain = sensible_kw * p + (light_kw if p else 0.05 * light_kw)
    # Decoupled: a wheel leaves 28 % of what outdoor air holds above the rooms; below, air comes no colder than 15.6 degC.
    after = room_h + 0.28 * (h - room_h) if h > room_h else None
    if after is not None or float(row[D]) > 10:
        cold[1] += vent * max(0.0, (after or min(h, room_h)) - supply_h)
    # Where the air is not dried, what the halls keep above the heating set point is left to the people.
    elif t < 15.6:
        heat += max(0.0, vent * 1.006 * (21 - 15.6) - gain) if p else 0.0
    # All-air: flow by the load, no less than 1.5 times the outdoor air; outdoor air alone while it holds less than the rooms.
    flow = max(min(gain / (1.006 * 11.2), supply), 1.5 * code * 0.75)
    fans_all_air += supply / 1.2 * 1.7 / 0.62 * (flow / supply) ** 2.2
    mixed = h if h < room_h else room_h + min(1.0, code / flow) * (h - room_h)
    cold[0] += flow * max(0.0, mixed - supply_h)

fans = in_use * vent / 1.2 * 1.87 / 0.62
# Terminal fans in series carry at least the primary air, at about 0.25 W for each L/s at half of their flow.
terminals = in_use * vent / 1.2 * 0.25
# Name, all-air, decoupled, kWh, and how sure.
terms = [
    ("chillers, tower and pumps, 4.5 heat per electricity", cold[0] / 4.5, cold[1] / 4.5, 0.3),
    ("central fans", fans_all_air, fans, 0.15),
    ("terminal fans", 0.0, terminals, 0.5),
]
print(f"{running} hours of running, {in_use} of people; heat to chillers {cold[0] / 1e3:.0f} and {cold[1] / 1e3:.0f} MWh")
middle, unsure = 0.0, 0.0
for name, a, d, part in terms:
    middle += (d - a) / 1e3
    unsure += (part * max(a, d) / 1e3) ** 2
    print(f"{name}: {a / 1e3:.1f} and {d / 1e3:.1f} MWh, within {part:.0%} of the larger")
print(f"difference {middle:+.0f} MWh, between {middle - unsure**0.5:+.0f} and {middle + unsure**0.5:+.0f}")
print(f"heat that halls with few people lack in the decoupled scheme: at most {heat / 1e3:.0f} MWh")
