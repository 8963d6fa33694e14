//! `WX`: weather.

kinds! {
    EMPTY_FILE = "WX-001" Error Input "the weather file is empty":
        "A file of no bytes, or of blank lines only, holds no hours. Often a download was interrupted or a spreadsheet was saved to another name."
        => "Fetch or export the file again and check its size before use.";
    NOT_TEXT = "WX-002" Error Input "the weather file is not plain text":
        "All weather formats read here are plain text. Zero bytes or control characters mean a spreadsheet, an archive, a two-byte text encoding or a damaged download."
        => "Unpack an archive first; save a spreadsheet as CSV in UTF-8; fetch a damaged file again.";
    TOO_LARGE = "WX-003" Error Input "the weather file is too large to be one typical year":
        "One year of hourly rows takes one to two megabytes. A file or a line far beyond that is something else, and reading it would only use up memory."
        => "Give the file of one year in steps of one hour.";
    UNKNOWN_FORMAT = "WX-004" Error Input "the format of the weather file is not known":
        "The format is told from the content, not from the name. None of the five known formats was found: TMY3 CSV, TMY2 fixed width, PVGIS typical-year CSV, NSRDB CSV, or Drycoil's own CSV with a unit in every column title."
        => "Export the year in one of the five formats; docs/WEATHER_FORMATS.md shows the first lines of each.";
    MISSING_COLUMN = "WX-005" Error Input "a needed weather column is missing":
        "Dry bulb, moisture, pressure, the three irradiances and wind speed are each used in every hour. A missing one is never made up from the others."
        => "Export the file again with the column named, or add the column to an own CSV file.";
    BAD_HEADER = "WX-006" Error Input "the header of the weather file cannot be used":
        "The header holds the place, the time zone, the column titles or their units. When it cannot be read, nothing below it can be placed in time or space."
        => "Compare the header with the description of the format in docs/WEATHER_FORMATS.md, and mend the item shown.";
    MISSING_STATION = "WX-007" Error Input "the place of the weather file is not complete":
        "Latitude, longitude, elevation and the offset from UTC are needed to place the sun and to know the air pressure. This file does not say all of them, and none is assumed."
        => "Give what is missing: `--latitude`, `--longitude`, `--elevation`, `--utc-offset` on the command line, or the same keys of the weather table of the project.";
    ROW_COUNT = "WX-008" Error Input "the weather file does not hold one year of hours":
        "A typical year has 8760 rows of one hour. Another count means missing or doubled rows, a leap day that is only part there, or another time step."
        => "Export one year in steps of one hour; the other findings of the file name the rows.";
    GAP = "WX-009" Error Input "hours are missing from the weather file":
        "No row was found for these hours. A year with a hole would move every later hour, or hide the hours that govern the design."
        => "Get a complete file, or ask for short gaps to be filled (`fill_gaps_up_to` in the project, `--fill-gaps` on the command line); every filled hour is then listed.";
    MISSING_VALUE = "WX-010" Error Input "values are missing in the weather file":
        "The field is empty or holds the number with which its format marks a missing value, such as 9999 or -9900. Used as a number it would be an absurd temperature or pressure."
        => "Get a complete file, or ask for short gaps to be filled; every filled hour is then listed.";
    DUPLICATE_STAMP = "WX-011" Error Input "two rows stand for the same hour":
        "Only one of the two can be right and the program cannot know which. Often two exports were joined, or daylight saving time was left in the stamps."
        => "Delete the wrong row. Stamps must be standard time all year, without daylight saving.";
    STAMP_ORDER = "WX-012" Error Input "the rows are out of order in time":
        "The rows must run from the first hour of January to the last of December. A row that goes back in time means joined or sorted files."
        => "Sort the rows by month, day and hour, and check that none is left over.";
    BAD_STAMP = "WX-013" Error Input "a time stamp cannot be read":
        "A stamp must name a real month, day and hour in the form of its format; spreadsheets like to rewrite dates into another form."
        => "Restore the stamp in the form shown, or export the file again without opening it in a spreadsheet.";
    BAD_NUMBER = "WX-014" Error Input "a weather value is not a number":
        "The field holds text that is not a plain decimal number. Nothing is guessed from it."
        => "Correct the field. Decimals take a point, and digits are not grouped.";
    DECIMAL_COMMA = "WX-015" Error Input "decimal commas in the weather file":
        "With a comma as the decimal mark a field cannot be told from two fields, so such a file is refused."
        => "Export the file with a decimal point; in a spreadsheet choose an English locale for the export.";
    OUT_OF_RANGE = "WX-016" Error Input "a weather value is outside what can be":
        "The value lies outside the range that occurs on earth or that the moist-air equations cover. Usually it is a unit slip (Pa for hPa, degF for degC), a shifted column or a marker for a missing value."
        => "Correct the value or its unit; if a marker for missing values was meant, leave the field empty.";
    IMPOSSIBLE_HUMIDITY = "WX-017" Error Input "a dew point above the dry bulb":
        "Air cannot hold more moisture than saturation, so a dew point above the dry bulb by more than the rounding of the file is an error in one of the two, and moisture governs this design."
        => "Correct the dry bulb or the dew point of the row, or leave both empty and ask for the gap to be filled.";
    TRUNCATED = "WX-018" Error Input "the weather file ends too early":
        "The last row is cut off or the year stops before its last hour: the transfer or the export was interrupted."
        => "Fetch the file again and compare its size with the source.";
    ROW_SHAPE = "WX-019" Error Input "a row has the wrong number of fields":
        "With a field too few or too many, values stand under the wrong titles."
        => "Compare the row with its neighbours; look for a lost or doubled delimiter or an open quotation mark.";
    ROUNDED_DEW_POINT = "WX-020" Note Input "dew points a rounding step above the dry bulb":
        "The file is rounded, and in some hours the rounded dew point lies up to one rounding step above the rounded dry bulb. Those hours are taken as saturated air at the dry bulb."
        => "Nothing need be done. A file with more decimals removes the note.";
    FILLED = "WX-021" Note Input "hours were filled by interpolation":
        "The filling of short gaps was asked for. Each filled value lies on the straight line between its neighbours, so the filled hours cannot hold an extreme of their own."
        => "Look at the listed hours; when one falls into the governing season, get a complete file.";
    ASSUMED_UTC_OFFSET = "WX-022" Note Input "the offset from UTC was taken from the longitude":
        "The file is in UTC and does not name its time zone. Standard time by longitude (15 degrees an hour) was used. Legal time may differ, and use profiles of a building run on legal time."
        => "State the offset with `--utc-offset` or in the weather table of the project.";
    STATION_REPLACED = "WX-023" Note Input "a station value of the file was replaced":
        "The project or the command line states another value than the file, and the stated value was used."
        => "Check that the weather file belongs to this place.";
    TIME_ZONE_DOUBTFUL = "WX-024" Warning Input "the irradiance does not fit the time zone":
        "Over a year the irradiance is centred on solar noon. Here its centre lies more than an hour away, so the time zone, the longitude or the convention of the stamps is wrong, and the sun would shine on the wrong walls."
        => "Check the offset from UTC and the longitude; a file in UTC whose header says local time is the usual cause.";
    COLUMN_LEFT_OUT = "WX-025" Note Input "an optional weather column was not used":
        "The column is optional and some of its values are missing or cannot be used, so it was left out as a whole rather than patched."
        => "Nothing need be done unless the quantity matters to this design.";
    UNKNOWN_COLUMN = "WX-026" Error Input "a column title means nothing here":
        "In Drycoil's own CSV every column is known and carries a unit. A title that is not known may be a needed column misspelt, so it is refused."
        => "Correct the title or delete the column; docs/WEATHER_FORMATS.md lists the titles.";
    BAD_UNIT = "WX-027" Error Input "a weather column has no unit, or a wrong one":
        "A number without its unit could be read in several ways that all look plausible."
        => "Write the unit behind the title in square brackets, as in `dry_bulb [degC]`.";
    DERIVED_DEW_POINT = "WX-028" Note Input "dew points were computed from relative humidity":
        "The file gives relative humidity instead of the dew point. The dew point was computed from it at the dry bulb and pressure of the hour."
        => "Nothing need be done. Prefer a file with measured dew points when the last tenths of a kelvin matter.";
    SHORT_OF_CHECK = "WX-029" Error Input "the hours do not make a weather year":
        "Each value was read, but the year as a whole fails a check of the weather-year type."
        => "Correct the hours named.";
    IRRADIANCE_MOVED = "WX-030" Note Input "irradiance samples were moved to the middle of their hour":
        "The irradiance of this file is a sample at one instant of each hour. The sun is placed at the middle of the hour, so each value was taken from the straight line between two samples at that middle. The yearly sum does not change."
        => "Nothing need be done. docs/WEATHER_FORMATS.md states the error of this step.";
    PRESSURE_ELEVATION = "WX-031" Warning Input "the pressure does not fit the elevation":
        "The mean pressure of the year differs by more than 4 % from the standard atmosphere at the stated elevation. Pressure reduced to sea level, an elevation in feet, or the wrong place are the usual causes; humidity ratio and fan sizes follow from it."
        => "Check the elevation and its unit, and that the file gives station pressure, not pressure at sea level.";
    OFFSET_LONGITUDE = "WX-032" Warning Input "the offset from UTC does not fit the longitude":
        "Legal time differs from the time of the sun by up to about three hours on earth. A larger difference means a wrong sign of the longitude, a wrong offset, or a file of another place; profiles of use would then run at the wrong hours of the day."
        => "Check the sign of the longitude (east is positive) and the offset from UTC.";
}
