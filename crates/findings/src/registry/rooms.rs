//! `RM`: rooms, surfaces, profiles.

kinds! {
    DUPLICATE_ROOM = "RM-001" Error Input "two rooms have the same id":
        "Surfaces, zones, transfer air and the papers name a room by its id, so each id must be there once."
        => "Give one of the two another id, or delete the row that was copied.";
    UNKNOWN_KIND = "RM-002" Error Input "a room kind that does not exist":
        "The kind carries the ventilation rates, people, lights and plugs of the room."
        => "Use the id of a built-in kind, or describe the kind in [room_kinds.ID] of project.toml.";
    UNKNOWN_PROFILE = "RM-003" Error Input "a use profile that does not exist":
        "The profile says in which hours people, lights and plugs are there."
        => "Use a built-in profile, or add this one to profiles.csv.";
    UNKNOWN_CONSTRUCTION = "RM-004" Error Input "a construction that does not exist":
        "The surface needs its layers, and no table [constructions.NAME] has this name."
        => "Correct the name, or add the construction to project.toml.";
    UNKNOWN_GLAZING = "RM-005" Error Input "a glazing that does not exist":
        "The window needs its U-value and solar heat gain, and no table [glazings.NAME] has this name."
        => "Correct the name, or add the glazing to project.toml.";
    UNKNOWN_ROOM = "RM-006" Error Input "a surface of a room that does not exist":
        "The heat of this surface would go nowhere."
        => "Correct the room id, or add the room to the room list.";
    UNKNOWN_TRANSFER = "RM-007" Error Input "transfer air from a room that does not exist":
        "Transfer air carries heat and moisture from the room that it leaves, so that room must be in the list."
        => "Correct the id in `transfer_from`.";
    TRANSFER_LOOP = "RM-008" Error Input "transfer air runs in a circle":
        "Each of these rooms draws its air from the next and none gets primary air, so the air has no beginning."
        => "Let one of the rooms draw from a room outside the circle, or clear its `transfer_from`.";
    ZONE_FLOORS = "RM-009" Error Input "a zone spans two floors":
        "The rooms of a zone share one terminal in one ceiling; a terminal does not serve two floors."
        => "Give the rooms of each floor their own zone.";
    ZONE_WITHOUT_TERMINAL = "RM-010" Error Input "a zone has no room with a terminal":
        "Several rooms share this zone and none of them may carry a terminal, so the zone has no conditioned air."
        => "Set `terminal` of one room to `auto`, or clear the zone and give each room its `transfer_from`.";
    SURFACE_TOO_LARGE = "RM-011" Warning Input "the surfaces of a room are larger than it can have":
        "The area is more than a room of this floor area and height can show to one side. Often an area was entered for a whole facade, or in another unit than the title says."
        => "Check the area and its unit, and that a wall is entered without its windows.";
    OVERRULE_WITHOUT_REASON = "RM-012" Error Input "a screen is overruled without a reason":
        "This kind of room is proposed for conventional cooling. It may be put on the system, but the papers must say why."
        => "Write the reason in the column `overrule_reason`, or set `system` to `auto`.";
    SET_POINTS_CROSSED = "RM-013" Error Input "the heating set point is not below the cooling set point":
        "Heating and cooling would work against each other all year."
        => "Leave a band between the two; 2 K or more is usual.";
    UNKNOWN_COLUMN = "RM-014" Error Input "a column that means nothing here":
        "A column that is not read would silently have no effect, so it is refused instead."
        => "Correct the title or delete the column. A remark can stand in a line that begins with `#`.";
    MISSING_COLUMN = "RM-015" Error Input "a needed column is missing":
        "Without this column no row can be used, and no honest default exists."
        => "Add the column; docs/PROJECT_FORMAT.md shows the titles.";
    DUPLICATE_COLUMN = "RM-016" Error Input "a column is there twice":
        "Only one of the two can count and the program cannot know which."
        => "Delete or rename one of the two columns.";
    COLUMN_WITHOUT_UNIT = "RM-017" Error Input "a column title without its unit":
        "The numbers in this column have no unit of their own, and a number without a unit is never guessed."
        => "Write the unit in square brackets behind the title, as in `floor_area [ft2]`.";
    EMPTY_CELL = "RM-018" Error Input "a needed cell is empty":
        "This value has no honest default."
        => "Fill the cell, or delete the row.";
    ID_IS_DATE = "RM-019" Error Input "a room id that a spreadsheet turned into a date":
        "Ids such as 2-1 or 3/4 are rewritten as dates when a spreadsheet opens the file, and the room can no longer be found by its id."
        => "Format the column as text before typing, and enter the ids again; or use ids such as R2-01.";
    ROW_SHAPE = "RM-020" Error Input "a row has more fields than there are titles":
        "With a field too many, values stand under the wrong titles. Often a name holds the delimiter and is not quoted, or a decimal comma splits a number."
        => "Put the field in double quotes, or use a decimal point.";
    NO_ROWS = "RM-021" Error Input "a table without rows":
        "The file has no titles or no row below them."
        => "Add the rows, or delete the file if it is optional.";
    MIXED_DECIMALS = "RM-022" Error Input "decimal points and decimal commas in one table":
        "With both in one file a number such as 1.250 can mean two things."
        => "Use one decimal mark in the whole file.";
    OPEN_QUOTE = "RM-023" Error Input "a quotation mark is never closed":
        "Everything after it would be one field, over all following rows."
        => "Close the quotation mark, or double it when it belongs to the text.";
    PROFILE_INCOMPLETE = "RM-024" Error Input "a use profile lacks a day type":
        "A profile that says something for weekdays only leaves open what happens at other times, and a set-back or a Monday start depends on it."
        => "Add a row for each of weekday, saturday, sunday and holiday, or one row with the day `all`.";
    PROFILE_TWICE = "RM-025" Error Input "two rows of a profile stand for the same day":
        "Only one of the two rows can count, and which one was meant is not for the program to say."
        => "Delete one of the two rows.";
    BAD_WORKBOOK = "RM-026" Error Input "the workbook cannot be read":
        "The file is no XLSX workbook, is damaged, is protected by a password, or unpacks to far more than a room list holds."
        => "Save the room list anew as XLSX without a password, or as CSV.";
    FORMULA_WITHOUT_VALUE = "RM-027" Error Input "a formula without a stored result":
        "The workbook was written by a program that stores formulas but not their results, and formulas are not computed here."
        => "Open the workbook in a spreadsheet, let it compute, and save it; or paste the values.";
    HIDDEN_ROWS = "RM-028" Note Input "hidden rows of the workbook were read":
        "Rows that are hidden or filtered out count like all others."
        => "Delete the rows if they are not meant to count.";
    MERGED_CELLS = "RM-029" Error Input "merged cells in the room list":
        "Only the first cell of a merged range holds a value; whether the others mean the same cannot be known."
        => "Unmerge the cells and fill in each one.";
    TWO_ROOM_LISTS = "RM-030" Error Input "two room lists":
        "Both `rooms.csv` and `rooms.xlsx` are there, and only one can be right."
        => "Move one of the two out of the folder.";
    NO_FACING = "RM-031" Error Input "a wall or window without its direction":
        "The sun on a tilted surface depends on the direction that it faces."
        => "Fill the column `facing` with an azimuth clockwise from north, or a compass word such as SE.";
    HEALTH_CARE_ZONE = "RM-032" Error Input "a health-care room shares its zone":
        "A room with an air-change or pressure requirement needs its own control; in a shared zone its air changes follow another room's thermostat."
        => "Give the room a zone of its own.";
    NO_NEIGHBOUR = "RM-033" Error Input "a partition without the temperature behind it":
        "A partition to a space at room temperature carries no heat and need not be entered; one to another space needs that temperature."
        => "Fill the column `neighbour`, or delete the row.";
    NO_SURFACES = "RM-034" Note Input "no exposed surfaces":
        "There is no `surfaces.csv`, so every room is taken as an inside room without walls, roofs or windows to the outside."
        => "Add surfaces.csv unless all rooms are inside rooms.";
    VALUE_WITHOUT_EFFECT = "RM-035" Error Input "a value that has no effect on this row":
        "The column means nothing for this kind of row, so the value would be dropped silently."
        => "Clear the cell, or correct the kind of the row.";
    TRANSFER_TO_ITSELF = "RM-036" Error Input "a room draws transfer air from itself":
        "Transfer air comes from another room."
        => "Correct the id in `transfer_from`.";
    NO_AIR = "RM-037" Error Input "a room without terminal and without transfer air":
        "The room has no terminal and names no room from which air comes, so it gets no air at all."
        => "Fill `transfer_from`, give the room a terminal, or set `system` to `off`.";
    PLACE_NAME_TAKEN = "RM-038" Error Input "a name that belongs to another part of the building":
        "Results, calculation sheets and waivers find their part by its name alone. The building, the plant, the ducts, the primary air and the dew point are such parts, as is each floor as `floor NAME`; a room, zone or floor of the same name would share their numbers. So would a zone that bears the id of a room outside it."
        => "Choose another name, such as `plant room` for a room called `plant`.";
}
