//! `PF`: the project folder and `project.toml`.

kinds! {
    SYNTAX = "PF-001" Error Input "the file is not valid TOML":
        "The text breaks the rules of the TOML format at this place, so nothing after it can be trusted to mean what was written."
        => "Mend the syntax at the place shown. A text value stands in double quotes; a table title stands in square brackets.";
    UNKNOWN_KEY = "PF-002" Error Input "a key that means nothing here":
        "A key that is not read would silently have no effect, so it is refused instead."
        => "Correct the spelling, move the key to the table where it belongs, or delete it.";
    MISSING_KEY = "PF-003" Error Input "a needed key is missing":
        "This value has no honest common default: it belongs to this job and nobody else's."
        => "Add the key to the table named; docs/PROJECT_FORMAT.md says what it means.";
    WRONG_TYPE = "PF-004" Error Input "a value of the wrong type":
        "A quantity is a text with its unit, a count is a whole number, a switch is true or false, a list stands in square brackets. Another type is not converted."
        => "Write the value in the form shown.";
    NO_UNIT = "PF-005" Error Input "a number without its unit":
        "55 may be degF or degC, and both look plausible. A number without a unit is never guessed."
        => "Write the number and its unit as one text, as in \"55 degF\", or put the unit in the column title.";
    WRONG_UNIT = "PF-006" Error Input "a unit that does not fit the quantity":
        "The unit is unknown, misspelt, or belongs to another kind of quantity, so the number cannot be converted."
        => "Use one of the accepted units listed with the finding; `drycoil units` shows all.";
    NOT_A_NUMBER = "PF-007" Error Input "a value that is not a number":
        "A number was expected and the text cannot be read as a finite one."
        => "Correct the value. Decimals take a point; digits may be grouped with an underscore.";
    OUT_OF_RANGE = "PF-008" Error Input "a value outside what is allowed":
        "The value lies outside the range in which the method holds or in which buildings are made. Most often a unit or a decimal slipped."
        => "Check the number and its unit. The allowed range is printed in the unit that was written.";
    UNKNOWN_WORD = "PF-009" Error Input "a word that is not one of the choices":
        "This key takes one of a few words, and anything else would be a guess at what was meant."
        => "Use one of the words listed with the finding.";
    NO_FORMAT = "PF-010" Error Input "the project does not say its format number":
        "The format number tells how the other keys are to be read. Without it, or with 0, an old and a new project cannot be told apart."
        => "Write `format = 1` in the table [project]. Format 0 was never issued, so nothing else needs to change.";
    NEWER_FORMAT = "PF-011" Error Input "the project was written for a newer version":
        "A newer format may give a key another meaning, so reading it with this version could give a wrong design without saying so."
        => "Use the version of the program that wrote the project, or a later one.";
    MISSING_FILE = "PF-012" Error Input "a needed file is missing or cannot be read":
        "A project is one folder with `project.toml`, a room list (`rooms.csv` or `rooms.xlsx`) and the weather file that it names."
        => "Put the file there, correct its name, or begin with `drycoil new DIR`.";
    NOT_TEXT = "PF-013" Error Input "a file is not plain text":
        "The file holds bytes that are no text: two-byte characters, zero bytes, or a damaged download. `project.toml` and `catalogue.toml` must be UTF-8; tables may also be Windows-1252."
        => "Save the file as UTF-8 text (in a spreadsheet: `CSV UTF-8`).";
    TOO_LARGE = "PF-014" Error Input "a file is too large":
        "A room list of ten thousand rooms takes about two megabytes. A file far beyond that is something else, and reading it would only use up memory."
        => "Check that the right file has this name.";
    BAD_LIST = "PF-015" Error Input "a list that cannot be used":
        "The list has the wrong number of entries, or an entry that is not what the key needs."
        => "Correct the list; the finding says what is needed.";
    BAD_DATE = "PF-016" Error Input "a date that cannot be read":
        "A date must name a real day, in the form shown, so that no order of day and month has to be guessed."
        => "Write YYYY-MM-DD for a date and MM-DD for a day of every year.";
    PINS_CROSSED = "PF-017" Error Input "pinned dew points and water temperature contradict each other":
        "The primary air must be drier than the room limit to carry moisture away, and the sensible water must be warmer than the room limit by the design margin, or coils get wet by design."
        => "Loosen one of the pins. A value that is left out is solved.";
    DRYING_OUT_OF_REACH = "PF-018" Error Input "the drying water is too warm for the pinned supply dew point":
        "A coil cannot bring the dew point of air below the temperature of its water plus the closest approach."
        => "Lower `primary_air.drying_water`, or raise or leave out `dew_point.supply`.";
    UNKNOWN_FINDING = "PF-019" Error Input "a waiver names a finding that does not exist":
        "A waiver with a wrong id would waive nothing, and the finding would come as a surprise in the papers."
        => "Use the id as it is printed with the finding; `drycoil explain` lists all.";
    WAIVER_PART = "PF-020" Error Input "a waiver names a part that does not exist":
        "The waiver is meant for one room or zone, and none has this id."
        => "Correct the id, or leave `part` out to accept the finding everywhere.";
    BAD_LAYER = "PF-021" Error Input "a layer is neither a material nor a resistance":
        "A layer with mass needs thickness, conductivity, density and specific heat; an air space or membrane needs only its resistance. A mixture leaves it open which one counts."
        => "Give all four material properties, or `resistance` alone.";
    NO_ELEVATION = "PF-022" Error Input "an actual air flow without a known elevation":
        "An actual air flow becomes a standard flow through the air pressure of the site, and neither the project nor a weather station says how high the site lies."
        => "Write `elevation` or `pressure` in [site], or write the flow in scfm.";
    LIMITS_CROSSED = "PF-023" Error Input "a lower limit is not below its upper limit":
        "The two values describe a band that holds nothing."
        => "Exchange or correct the two values.";
    WAIVER_INPUT = "PF-024" Error Input "a waiver for bad input":
        "Input that cannot be used cannot be accepted by a decision: no design comes out of it."
        => "Mend the input. Only findings about a result can be waived.";
    ABSOLUTE_PATH = "PF-025" Warning Input "the weather file is named by an absolute path":
        "The project will not find its weather on another machine."
        => "Copy the weather file into the project folder and name it without folders.";
    WINDOWS_TEXT = "PF-026" Note Input "a table was read as Windows-1252 text":
        "The file is not valid UTF-8, as is usual for a CSV saved by a spreadsheet. It was read as Windows-1252, in which degree and square signs and western European letters have a place."
        => "Nothing need be done when names look right. Save as `CSV UTF-8` to remove the note.";
    UNREAD_FILE = "PF-027" Note Input "a file of the folder is not read":
        "Its name is near to one of the names that are read, so it may be a slip."
        => "Rename the file if it was meant to be read.";
    EMPTY_NAME = "PF-028" Error Input "a name is empty":
        "Names tie rooms, surfaces and tables together and are printed in the papers; an empty one cannot be found again."
        => "Write a name that is not used yet.";
    UNKNOWN_BASE = "PF-029" Error Input "a room kind is based on one that does not exist":
        "`based_on` takes over all values of a built-in room kind that are not written."
        => "Use the id of a built-in room kind; docs/PROJECT_FORMAT.md lists them.";
    UNKNOWN_NAME = "PF-030" Error Input "a room kind names a profile that does not exist":
        "The profile says in which hours people, lights and plugs are there. Without it the kind has no loads."
        => "Correct the name, or add the profile to profiles.csv.";
    TIME_DOES_NOT_FIT = "PF-031" Error Input "a time that does not fit hours or years":
        "The year is simulated and billed hour by hour, so a time step must divide an hour and power cannot be averaged over less than a step; a life-cycle study counts whole years."
        => "Use a step such as 15 min, an averaging time that is a multiple of it and divides an hour, and a study period of whole years.";
    WRITTEN_TWICE = "PF-032" Error Input "one value is written in two places":
        "Two keys say the same thing, and it is open which one counts, even where they agree today."
        => "Leave one of the two out.";
    PERIODS_OVERLAP = "PF-033" Error Input "two price periods hold at one time":
        "Each hour has one price of energy. Where two periods hold, the bill is not defined."
        => "Change months, days or hours so that the periods do not meet; what is left falls to the flat price.";
}
