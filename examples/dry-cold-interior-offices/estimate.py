"""Electricity of both schemes by hand, made again after the first find: from the weather file, the profile `office`, the
room list and the defaults that PROJECT_FORMAT.md prints; nothing of the program is run or read. MWh a year.

Run from the root of the repository: python3 examples/dry-cold-interior-offices/estimate.py
"""

import csv

# Use by hour of a weekday (crates/intake/data/profiles.csv): people, lighting, plugs.
PEOPLE = [0] * 7 + [0.2, 0.8, 1, 1, 1, 0.5, 1, 1, 1, 1, 0.4, 0.1, 0.1] + [0] * 4
LIGHT = [0.05] * 7 + [0.5] + [1] * 10 + [0.4] * 2 + [0.05] * 4
PLUGS = [0.3] * 7 + [0.5] + [1] * 10 + [0.5] * 2 + [0.3] * 4
rooms = list(csv.DictReader(open("examples/dry-cold-interior-offices/rooms.csv")))
area = sum(float(r["floor_area [m2]"]) for r in rooms)
people_kw = sum(float(r["people"]) for r in rooms) * 0.073  # 250 Btu/h sensible each
light_kw = sum(float(r["floor_area [m2]"]) * float(r["lighting [W/m2]"]) for r in rooms) / 1e3
plugs_kw = sum(float(r["floor_area [m2]"]) * float(r["plugs [W/m2]"]) for r in rooms) / 1e3
peak = people_kw + light_kw + plugs_kw

AIR = 0.95  # kg/m3 at 2 080 m
vent = sum(float(r["people"]) for r in rooms) * 20 / 2119 * 1.204  # kg/s: 20 scfm each
vent_cp = vent * 1.006
supply = peak * 1.1 / (1.006 * 11.2)  # kg/s of the all-air scheme, 10 % spare, 24 to 12.8 degC

cold_all_air = cold_decoupled = running = in_use = economizing = fans_all_air = 0.0
stored = 0.0  # kWh that the building keeps from nights and weekends: no outer wall lets it out
for i, row in enumerate(csv.DictReader(open("examples/weather/nsrdb-psm-tmy-high-altitude.csv"))):
    t, hour, weekday = float(row["Temperature"]), int(row["Hour"]), i // 24 % 7 < 5
    p, l, g = (PEOPLE[hour], LIGHT[hour], PLUGS[hour]) if weekday else (0, 0.05, 0.3)
    gain = people_kw * p + light_kw * l + plugs_kw * g
    # Two hours of start-up before the people.
    if not (weekday and 5 <= hour < 20):
        stored += gain
        continue
    running += 1
    in_use += p > 0
    # What is stored comes out over some six hours, within the capacity of the units.
    out = min(stored / 6, max(0.0, 1.1 * peak - gain))
    stored -= out
    load = gain + out
    # All-air: outdoor air alone below 24 degC, 1 K of fan heat.
    share = load / (1.1 * peak)
    m_cp = supply * 1.006 * share
    fans_all_air += supply / AIR * 0.9 / 0.62 * share**2.2  # 900 Pa; pressure reset by the most open box
    chilled = max(0.0, m_cp * (t - 11.8)) if t < 24 else m_cp * (12.2 + 0.3 * (t - 24))
    cold_all_air += chilled
    economizing += chilled == 0.0
    # Decoupled: fan heat of terminals stays in the rooms. Ventilation air is brought in at 15.6 degC, or as warm as outdoors
    # or the rooms, which then is cooled.
    cold_decoupled += max(0.0, load + 1.5 - vent_cp * (24 - min(max(t, 15.6), 24)))

terminal_kw = (peak * 1.1 - vent_cp * 8.4) / (1.006 * 8.5) / AIR  # 1 W for each L/s at 24 to 15.5 degC
mean = 0.85  # share of full flow while running
pump = lambda heat_kw, rise, kpa: heat_kw / 4.19 / rise / 1e3 * kpa / 0.6  # kW
coil_kw = peak * 1.1 - vent_cp * 8.4
friction = 0.392 * 183 * 1.5  # kPa: 4 ft/100 ft over 600 ft with half as much for fittings
# Name, all-air, decoupled, kWh, and how sure: chillers move 6 to 10 heat by one electricity while the tower makes water near
# 15 degC; fans vary with the law of part load, terminal fans and pumps with what a catalogue and a flow law give.
terms = [
    ("chillers and tower, 8 heat per electricity", cold_all_air / 8, cold_decoupled / 8, 0.30),
    ("central fans", fans_all_air, in_use * vent / AIR * 1.87 / 0.62, 0.15),
    ("terminal fans", 0.0, running * terminal_kw * mean**2.5, 0.35),
    (
        "pumps",
        (running - economizing)
        * (pump(1.2 * peak, 6.7, friction + 81) + pump(1.5 * peak, 5.6, friction / 2 + 90))
        * mean,
        running
        * (pump(coil_kw, 3.0, friction + 81) + pump(1.3 * peak, 5.6, friction / 2 + 90) + pump(10, 6.6, friction))
        * mean,
        0.35,
    ),
]
chilled = f"{cold_all_air / 1e3:.0f} and {cold_decoupled / 1e3:.0f} MWh"
print(f"{running:.0f} hours of running, {in_use:.0f} of people; heat to chillers {chilled}")
middle, unsure = 0.0, 0.0
for name, a, d, part in terms:
    middle += (d - a) / 1e3
    unsure += (part * max(a, d) / 1e3) ** 2
    print(f"{name}: {a / 1e3:.1f} and {d / 1e3:.1f} MWh, within {part:.0%} of the larger")
print(f"difference {middle:+.0f} MWh, between {middle - unsure**0.5:+.0f} and {middle + unsure**0.5:+.0f}")
