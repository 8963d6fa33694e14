"""The schedules of a design, read back by another library and compared with the JSON of the same design.

Arguments: design.json, schedules.xlsx, and the unit system of the workbook, `ip` or `si`.

Columns are found by their title and by the unit in it; factors are those of NIST Special Publication 811 and of the
definition of standard air (0.075 lb/ft3 of dry air), written here anew.
"""

import json
import sys

from gates import packages

(openpyxl,) = packages("openpyxl")

FOOT = 0.3048
CFM = FOOT**3 / 60.0
BTU_H = 1055.05585262 / 3600.0
GALLON = 231 * 0.0254**3
INCH_OF_WATER = 249.08891
POUND = 0.45359237

# From SI to what the title says.
UNITS = {
    "degC": lambda v: v,
    "degF": lambda v: v * 1.8 + 32.0,
    "K": lambda v: v,
    "cfm": lambda v: v / CFM,
    "acfm": lambda v: v / CFM,
    "L/s": lambda v: v * 1e3,
    "aL/s": lambda v: v * 1e3,
    "Btu/h": lambda v: v / BTU_H,
    "W": lambda v: v,
    "kW": lambda v: v / 1e3,
    "ton": lambda v: v / BTU_H / 12000.0,
    "gpm": lambda v: v / (GALLON / 60.0),
    "ft/s": lambda v: v / FOOT,
    "fpm": lambda v: v / FOOT * 60.0,
    "m/s": lambda v: v,
    "in wg": lambda v: v / INCH_OF_WATER,
    "ft wg": lambda v: v / INCH_OF_WATER / 12.0,
    "ft wg/100 ft": lambda v: v * FOOT * 100.0 / INCH_OF_WATER / 12.0,
    "in wg/100 ft": lambda v: v * FOOT * 100.0 / INCH_OF_WATER,
    "Pa": lambda v: v,
    "kPa": lambda v: v / 1e3,
    "Pa/m": lambda v: v,
    "ft2": lambda v: v / FOOT**2,
    "m2": lambda v: v,
    "in": lambda v: v / 0.0254,
    "mm": lambda v: v * 1e3,
    "ft": lambda v: v / FOOT,
    "m": lambda v: v,
    "%": lambda v: v * 100.0,
    "gr/lb": lambda v: v * 7000.0,
    "g/kg": lambda v: v * 1e3,
    "lb/h": lambda v: v / POUND * 3600.0,
    "kg/s": lambda v: v,
    "1/h": lambda v: v,
    "": lambda v: v,
}
# A difference of temperature has no zero of its scale.
DIFFERENCES = {"degF": lambda v: v * 1.8, "K": lambda v: v}

# Sheet, rows in the JSON, the column and the key that name a row, and columns with the key of their number.
TABLES = [
    ("Rooms", ("loads", "rooms"), ("Room", "room"), {
        "Sensible cooling load": "cooling.load_w",
        "Latent gain": "latent_w",
        "Heating load": "heating.load_w",
        "Infiltration": "infiltration_m3_per_s",
        "Cooling set point": "set_point_c",
    }),
    ("Primary air", ("needs",), ("Room", "room"), {
        "Primary air": "primary_m3_per_s",
        "Room dew point at design": "dew_point_c",
        "Highest dew point, occupied": "worst_dew_point_c",
        "Dew-point limit": "dew_point_limit_c",
        "Supply dew point needed at fixed flow": "required_dew_point_c",
        "Ventilation": "ventilation_m3_per_s",
        "Flow per person": "per_person_m3_per_s",
        "Largest need without moisture": "fixed_m3_per_s",
        "Moisture of people and processes": "latent_kg_per_s",
        "Transfer air in": "transfer_in_m3_per_s",
    }),
    ("Terminals", ("terminals",), ("Zone", "zone"), {
        "Dew-point margin": "water_margin_k",
        "Required margin": "required_margin_k",
        "Margin of the fin surface": "surface_margin_k",
        "Dew point of the coil air": "coil_air_dew_point_c",
        "Model": "model",
        "Units": "units",
        "Primary air": "primary_m3_per_s",
        "Primary inlet pressure": "inlet_pressure_pa",
        "Fan air, cooling": "fan_m3_per_s",
        "Fan power": "fan_power_w",
        "Sensible load": "sensible_load_w",
        "Discharge, cooling": "discharge_c",
        "Discharge, heating": "discharge_heating_c",
        "Hot water": "heating_water_m3_per_s",
    }),
    ("Coils", ("terminals",), ("Zone", "zone"), {
        "Coil duty": "coil_duty_w",
        "Coil capacity, valve open, design fan air": "coil_capacity_w",
        "Air entering": "coil_air_entering_c",
        "Air leaving": "coil_air_leaving_c",
        "Water leaving": "water_leaving_c",
        "Water flow": "water_m3_per_s",
        "Water velocity": "water_velocity_m_per_s",
        "Water pressure drop": "water_drop_pa",
    }),
    ("Floors", ("loads", "floors"), ("Floor", "group"), {
        "Coincident sensible cooling": "cooling.load_w",
        "Sum of room peaks": "cooling_sum_of_peaks_w",
        "Coincident heating": "heating.load_w",
    }),
    ("Air balance", ("balance",), ("Floor", "group"), {
        "Primary air": "primary_m3_per_s",
        "Exhaust": "exhaust_m3_per_s",
        "Surplus": "surplus_m3_per_s",
    }),
    ("Unit conditions", ("primary_unit", "cases"), None, {
        "Drying coil, total": "coil_total_w",
        "Condensate": "condensate_kg_per_s",
    }),
    ("Water loops", ("plant", "arrangements"), ("Arrangement", "arrangement"), {
        "Sensible return": "sensible_return_c",
        "Drying return": "drying_return_c",
        "Plant flow": "plant_flow_m3_per_s",
        "Input at design": "input_w",
    }),
    ("Ducts", ("ducts", "mains"), None, {
        "Standard flow": "standard_m3_per_s",
        "Duct height": "height_m",
        "Velocity": "velocity_m_per_s",
        "Friction": "friction_pa_per_m",
    }),
]

# Digits of the printed factors.
TOLERANCE = 2e-8
FEWEST = 500


def at(record, path):
    for key in path.split("."):
        record = record[key]
    return record


def split(title):
    name, _, unit = title.partition("\n[")
    return name, unit.removesuffix("]")


def main():
    document, workbook, system = sys.argv[1:]
    with open(document, encoding="utf-8") as file:
        design = json.load(file)["design"]
    book = openpyxl.load_workbook(workbook, data_only=True)
    foreign = {"ip": {"degC", "L/s", "m2", "kPa", "mm"}, "si": {"degF", "cfm", "ft2", "ton", "gpm"}}[system]
    wrong, compared = [], 0
    for sheet, path, name, columns in TABLES:
        rows = list(book[sheet].iter_rows(values_only=True))
        titles = [split(title) for title in rows[0]]
        index = {title: n for n, (title, _) in enumerate(titles)}
        wrong += [f"{sheet}: unit {unit} in the other system" for _, unit in titles if unit in foreign]
        records = design
        for key in path:
            records = records[key]
        if name is None:
            pairs = list(zip(rows[1:], records, strict=False))
        else:
            by_name = {str(record[name[1]]): record for record in records}
            pairs = [(row, by_name[str(row[index[name[0]]])]) for row in rows[1:] if str(row[index[name[0]]]) in by_name]
        if len(pairs) != len(records):
            wrong.append(f"{sheet}: {len(pairs)} rows of {len(records)} of the JSON")
        for row, record in pairs:
            for title, key in columns.items():
                if title not in index:
                    wrong.append(f"{sheet}: no column {title}")
                    continue
                cell, value = row[index[title]], at(record, key)
                if isinstance(value, str) or value is None:
                    expected = value
                    same = cell == value
                else:
                    unit = titles[index[title]][1]
                    table = DIFFERENCES if key.endswith("_k") else UNITS
                    expected = table[unit](value)
                    same = isinstance(cell, (int, float)) and abs(cell - expected) <= TOLERANCE * max(abs(expected), 1.0)
                compared += 1
                if not same:
                    wrong.append(f"{sheet}, {row[0]}, {title}: {cell} in the workbook, {expected} in the JSON")
    for line in wrong[:20]:
        print(line)
    print(f"{workbook}: {compared} cells compared, {len(wrong)} wrong")
    sys.exit(1 if wrong or compared < FEWEST else 0)


main()
