//! `PF`: the project folder and `project.toml`.

kinds! {
    SYNTAX = "PF-001" Error Input "the file is not valid TOML":
        "The text breaks the rules of the TOML format at this place, so nothing after it can be trusted to mean what was written."
        => "Mend the syntax at the place shown. A text value stands in double quotes; a table title stands in square brackets.";
    UNKNOWN_KEY = "PF-002" Error Input "a key that means nothing here":
        "A key that is not read would silently have no effect, so it is refused instead."
        => "Correct the spelling, move the key to the table where it belongs, or delete it.";
}
