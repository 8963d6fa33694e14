"""Structured Text of the sequence, read by two parsers that are not ours: the grammar of IEC 61131-3 for tree-sitter, and
blark, which reads the dialect of a widely used controller.

Usage: cargo run -q -p drycoil-sequence --example structured_text | python3 structured_text.py
Leaves with 0 when both read every text without an error and both refuse texts with a fault, 1 when not, 77 when the packages
are missing.
"""

import sys

from gates import packages

tree_sitter, grammar, blark = packages("tree_sitter", "tree_sitter_iec61131_3_st", "blark.parse")

END = "(* end of file *)\n"


def by_grammar(text):
    """Number of places that the grammar does not read."""
    parser = tree_sitter.Parser(tree_sitter.Language(grammar.language()))
    open_nodes, errors = [parser.parse(text.encode()).root_node], 0
    while open_nodes:
        node = open_nodes.pop()
        errors += node.is_error or node.is_missing
        open_nodes.extend(node.children)
    return errors


def by_blark(text):
    return 0 if blark.parse_source_code(text).exception is None else 1


def main():
    texts = [text for text in sys.stdin.read().split(END) if text.strip()]
    failed = len(texts) < 4
    # blark takes minutes over a long text; zones add lines, no constructs.
    shortest = sorted(texts, key=len)[:1]
    for name, read, given in (("grammar of the standard", by_grammar, texts), ("blark", by_blark, shortest)):
        for number, text in enumerate(given, 1):
            errors = read(text)
            failed |= errors > 0
            print(f"{'FAIL' if errors else 'ok  '} {name}: text {number}, {len(text)} characters, {errors} errors")
        # A parser that reads everything would say nothing.
        for fault, old, new in (("no END_VAR", "END_VAR", ""), ("no END_IF", "END_IF;", ""), ("no THEN", " THEN", "")):
            refused = read(given[0].replace(old, new, 1)) > 0
            failed |= not refused
            print(f"{'ok  ' if refused else 'FAIL'} {name}: {fault} is {'refused' if refused else 'read'}")
    sys.exit(1 if failed else 0)


main()
