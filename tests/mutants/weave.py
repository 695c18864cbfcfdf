#!/usr/bin/env python3
"""Weaves all mutants that cargo-mutants lists into one program.

usage: weave.py MUTANTS.json TREE [LEFT_OUT]

MUTANTS.json is what `cargo mutants --list --json` says of the sources in TREE, which are
changed in place. Mutant number N (its place in the list, from 1) is active where the
environment variable PERMIL_MUTANT is N, and none where it is not set; where it is `reached`, the
numbers whose place is reached are written to the file PERMIL_REACHED. Numbers in the file
LEFT_OUT, one a line, are not woven in: what the compiler refuses.

One mutant is active at a time, so that an expression within another one is mutated in the
other's unchanged branch only: the text grows by one plain copy for each level.
"""

import json
import re
import sys
from collections import defaultdict
from pathlib import Path

TOKEN = re.compile(
    r"""\s+|//[^\n]*|/\*.*?\*/|b?r(\#*)".*?"\1|b?"(?:\\.|[^"\\])*"|b?'(?:\\.[^']*|[^'\\])'|'[A-Za-z_]\w*
    |\d[\d_]*(?:\.\d[\d_]*)?(?:e[+-]?\d+)?\w*|[A-Za-z_]\w*|<<=|>>=|\.\.=|\.\.\.|\.\.|::|->|=>|==|!=|<=|>=|&&|\|\|
    |\+=|-=|\*=|/=|%=|\^=|&=|\|=|<<|>>|.""",
    re.X | re.S,
)
# How tightly operators bind, from the loosest.
LEVELS = [
    ["=", "+=", "-=", "*=", "/=", "%=", "^=", "&=", "|=", "<<=", ">>="],
    ["..", "..="],
    ["||"],
    ["&&"],
    ["==", "!=", "<", ">", "<=", ">="],
    ["|"],
    ["^"],
    ["&"],
    ["<<", ">>"],
    ["+", "-"],
    ["*", "/", "%"],
]
LEVEL = {operator: level for level, operators in enumerate(LEVELS) for operator in operators}
CLOSE = {")": "(", "]": "[", "}": "{"}
STOPS = {",", ";", ":", "=>", "return", "if", "while", "match", "else", "in", "let", "move", "break", "?;"}


class Source:
    """A file, with the offsets of its tokens."""

    def __init__(self, path):
        self.text = path.read_text()
        self.lines = [0]
        for at, sign in enumerate(self.text):
            if sign == "\n":
                self.lines.append(at + 1)
        found = [(m.start(), m.group()) for m in TOKEN.finditer(self.text)]
        self.tokens = [(at, token) for at, token in found if not re.match(r"\s|//|/\*", token)]
        self.index = {at: index for index, (at, _) in enumerate(self.tokens)}
        self.partner, stack = {}, []
        for index, (_, token) in enumerate(self.tokens):
            if token in "([{":
                stack.append(index)
            elif token in CLOSE and len(token) == 1:
                self.partner[index] = stack.pop()
                self.partner[self.partner[index]] = index

    def offset(self, place):
        return self.lines[place["line"] - 1] + place["column"] - 1

    def token(self, index):
        return self.tokens[index][1] if 0 <= index < len(self.tokens) else ";"

    def end(self, index):
        return self.tokens[index][0] + len(self.tokens[index][1])

    def ends_operand(self, index):
        """Whether an operand may end with this token."""
        token = self.token(index)
        return token in (")", "]", "}", "?") or (re.match(r"[\w\"']", token) is not None and token not in STOPS)

    def start_of_left(self, operator, level):
        """The token with which the operand to the left begins."""
        index = operator - 1
        while True:
            token = self.token(index)
            if token in (")", "]"):
                index = self.partner[index] - 1
                continue
            if token in STOPS or token in "([{}":
                return index + 1
            if token == "|" or token == "||":
                return index + 1
            if token in LEVEL and not (token in "-*&" and not self.ends_operand(index - 1)):
                if LEVEL[token] < level or (LEVEL[token] == level and level in (0, 4)):
                    return index + 1
            index -= 1

    def end_of_right(self, operator, level):
        """The token after the operand to the right."""
        index = operator + 1
        if self.token(index) in ("if", "match"):
            return self.end_of_branches(index)
        if self.token(index) in ("{", "|", "||", "move", "unsafe"):
            return None
        while self.token(index) in ("-", "*", "&", "!", "mut"):
            index += 1
        while True:
            token = self.token(index)
            if token in "([":
                index = self.partner[index] + 1
                continue
            if token == "::" and self.token(index + 1) == "<":
                depth, index = 0, index + 1
                while True:
                    depth += self.token(index).count("<") - self.token(index).count(">") * (self.token(index) != "->")
                    index += 1
                    if depth == 0:
                        break
                continue
            if token in STOPS or token in ")]}{":
                return index
            if token in LEVEL and LEVEL[token] <= level:
                return index
            if token in LEVEL:
                index += 1
                while self.token(index) in ("-", "*", "&", "!", "mut"):
                    index += 1
                continue
            index += 1

    def end_of_branches(self, index):
        """The token after an `if` or a `match` with all its branches."""
        while True:
            while self.token(index) != "{":
                index = self.partner[index] + 1 if self.token(index) in "([" else index + 1
            index = self.partner[index] + 1
            if self.token(index) != "else":
                return index

    def structure_around(self, field):
        """The tokens between which the structure stands whose field begins here, and the
        token after the field and its comma."""
        opened = field - 1
        while self.token(opened) != "{":
            opened = self.partner[opened] - 1 if self.token(opened) in ")]}" else opened - 1
        first = opened - 1
        while self.token(first - 1) == "::":
            first -= 2
        after = field
        while self.token(after) != ",":
            after = self.partner[after] + 1 if self.token(after) in "([{" else after + 1
        return first, self.partner[opened], after + 1


def edits_of(source, mutants):
    """What is put where: insertions as (offset, text) and regions as
    (start, end, [(number, text instead)])."""
    insertions, regions, odd, places = [], defaultdict(list), [], {}
    for number, mutant in mutants:
        start, end = source.offset(mutant["span"]["start"]), source.offset(mutant["span"]["end"])
        genre, instead = mutant["genre"], mutant["replacement"]
        text = source.text
        if genre == "FnValue":
            insertions.append((start, f"\nif crate::mutant({number}) {{ return {instead}; }}/*{number}*/\n"))
        elif genre == "BinaryOperator":
            operator = source.index.get(start)
            token = source.token(operator) if operator is not None else ""
            if token not in LEVEL:
                odd.append(number)
                continue
            left, right = source.start_of_left(operator, LEVEL[token]), source.end_of_right(operator, LEVEL[token])
            if right is None:
                odd.append(number)
                continue
            first, last = source.tokens[left][0], source.end(right - 1)
            operands = text[first:start].rstrip(), text[end:last].lstrip()
            regions[first, last].append((number, f"({operands[0]}) {instead} ({operands[1]})"))
            places[number] = (start, start + len(token), instead)
        elif genre == "UnaryOperator":
            operator = source.index.get(start)
            right = source.end_of_right(operator, 99)
            if right is None:
                odd.append(number)
                continue
            last = source.end(right - 1)
            regions[start, last].append((number, instead + text[end:last]))
        elif genre == "StructField":
            first, last, after = source.structure_around(source.index[start])
            begins, ends = source.tokens[first][0], source.end(last)
            regions[begins, ends].append((number, text[begins:start] + text[source.tokens[after][0] : ends]))
        elif genre == "MatchArmGuard":
            regions[start, end].append((number, instead))
        elif genre == "MatchArm":
            index = source.index[start]
            guard = None
            while source.token(index) != "=>":
                guard = index if source.token(index) == "if" and guard is None else guard
                index = source.partner[index] + 1 if source.token(index) in "([{" else index + 1
            if guard is None:
                insertions.append((source.tokens[index][0], f" if !crate::mutant({number}) /*{number}*/ "))
            else:
                insertions.append((source.end(guard), f" !crate::mutant({number}) /*{number}*/ && "))
        else:
            odd.append(number)
    # `a || b || c` with an `&&`: what crosses another one is put in place of both, as a text.
    for one in sorted(regions):
        other = next((other for other in sorted(regions) if other[0] < one[0] < other[1] < one[1]), None)
        if other is not None:
            begins, ends = other[0], one[1]
            for number, _ in regions.pop(one):
                if number in places:
                    at, after, instead = places[number]
                    regions[begins, ends].append((number, f"{text[begins:at]}{instead}{text[after:ends]}"))
                else:
                    odd.append(number)
    return insertions, regions, odd


def woven(source, insertions, regions):
    """The text with all of them."""
    spans = sorted(regions, key=lambda span: (span[0], -span[1]))
    insertions = sorted(insertions)

    def render(start, end, inner):
        out, at, todo = [], start, list(inner)
        while todo:
            span = todo.pop(0)
            nested = [other for other in todo if other[1] <= span[1]]
            todo = [other for other in todo if other[1] > span[1]]
            out.append(plain(at, span[0]))
            branches = [
                f"if crate::mutant({number}) {{\n{instead}\n}}/*{number}*/ else " for number, instead in regions[span]
            ]
            out.append("(" + "".join(branches) + "{\n" + render(*span, nested) + "\n})")
            at = span[1]
        out.append(plain(at, end))
        return "".join(out)

    def plain(start, end):
        out, at = [], start
        for place, text in insertions:
            if start <= place < end:
                out += [source.text[at:place], text]
                at = place
        return "".join([*out, source.text[at:end]])

    return render(0, len(source.text), spans)


def main():
    listed, tree = json.loads(Path(sys.argv[1]).read_text()), Path(sys.argv[2])
    left_out = set(map(int, Path(sys.argv[3]).read_text().split())) if len(sys.argv) > 3 else set()
    by_file = defaultdict(list)
    for number, mutant in enumerate(listed, 1):
        if number not in left_out:
            by_file[mutant["file"]].append((number, mutant))
    odd = []
    for file, mutants in by_file.items():
        source = Source(tree / file)
        insertions, regions, not_woven = edits_of(source, mutants)
        # Where operands were misread, regions may cross: the later one is left out.
        for one in sorted(regions):
            if any(other[0] < one[0] < other[1] < one[1] for other in regions):
                odd += [number for number, _ in regions.pop(one)]
        odd += not_woven
        (tree / file).write_text(woven(source, insertions, regions))
    root = tree / "src/lib.rs"
    root.write_text(
        root.read_text()
        + """
/// Whether the mutant of this number is active. Where PERMIL_MUTANT is `reached` none is,
/// and the numbers asked for are added to the file PERMIL_REACHED, each once for a process.
#[inline]
pub fn mutant(number: u32) -> bool {
    static ACTIVE: std::sync::LazyLock<u32> = std::sync::LazyLock::new(|| match std::env::var("PERMIL_MUTANT") {
        Ok(told) if told == "reached" => u32::MAX,
        Ok(told) => told.parse().unwrap_or(0),
        Err(_) => 0,
    });
    let active = *ACTIVE;
    if active == u32::MAX {
        reached(number);
    }
    active == number
}

fn reached(number: u32) {
    use std::io::Write as _;
    use std::sync::atomic::{AtomicBool, Ordering};
    static REACHED: [AtomicBool; 8192] = [const { AtomicBool::new(false) }; 8192];
    let of_it = &REACHED[number as usize];
    if !of_it.load(Ordering::Relaxed)
        && !of_it.swap(true, Ordering::Relaxed)
        && let Ok(path) = std::env::var("PERMIL_REACHED")
        && let Ok(mut file) = std::fs::OpenOptions::new().append(true).create(true).open(path)
    {
        let _ = file.write_all(format!("{number}\n").as_bytes());
    }
}
"""
    )
    print("\n".join(map(str, odd)))


if __name__ == "__main__":
    main()
