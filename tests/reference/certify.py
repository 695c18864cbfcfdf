#!/usr/bin/env python3
"""A second checker of certificates, in exact fractions, written from
profiles/CERTIFICATE.md alone. It shares nothing with the crate's.

    certify.py FILE...

Each file is JSON: {"model": ..., "names": [...], "certificates": [TEXT, ...]}.
Prints, for each file, a line of one letter a certificate: y (it proves its
claim) or n (it does not).
"""
import json
import re
import sys
from fractions import Fraction as F
from math import gcd

WHOLE = 10**12
UNIT = 10**9
NUMBER = re.compile(r"-?[0-9]+(\.[0-9]+)?(e-?[0-9]+)?\Z")
DOSE = re.compile(r"-?(0|[1-9][0-9]*)(\.[0-9]{0,8}[1-9])?\Z")
INDEX = re.compile(r"(0|[1-9][0-9]*)\Z")
ESCAPE = {"n": "\n", "t": "\t", "r": "\r", "0": "\0", "\\": "\\", '"': '"', "'": "'"}


class No(Exception):
    """The certificate proves nothing."""


def need(truth, why):
    if not truth:
        raise No(why)


# ---------------------------------------------------------------- the text


def number(text):
    need(len(text) <= 100 and NUMBER.match(text), f"number {text[:30]!r}")
    value = float(text)
    need(value == 0 or 1e-60 <= abs(value) <= 1e60, f"size of {text[:30]!r}")
    return F(value)


def index(text, below):
    need(INDEX.match(text) and len(text) < 20, f"index {text[:30]!r}")
    need(int(text) < below, f"index {text[:30]!r} beyond the end")
    return int(text)


def dose(text, least=0):
    need(len(text) < 40 and DOSE.match(text) and text != "-0", f"dose {text[:30]!r}")
    units = F(text) * UNIT
    need(units.denominator == 1 and least <= units <= WHOLE, f"dose {text[:30]!r}")
    return int(units)


def name(text):
    need(len(text) >= 2 and text[0] == text[-1] == '"', "name without quotes")
    text, out, i = text[1:-1], [], 0
    while i < len(text):
        c = text[i]
        i += 1
        if c != "\\":
            need(c != '"' and not (ord(c) < 32 or 127 <= ord(c) < 160), "bare sign in a name")
            out.append(c)
            continue
        need(i < len(text), "name ends in a backslash")
        c = text[i]
        i += 1
        if c == "u":
            found = re.compile(r"\{([0-9a-fA-F]{1,6})\}").match(text, i)
            need(found, "escape")
            code = int(found.group(1), 16)
            need(code <= 0x10FFFF and not 0xD800 <= code <= 0xDFFF, "escape")
            out.append(chr(code))
            i = found.end()
        else:
            need(c in ESCAPE, "escape")
            out.append(ESCAPE[c])
    return "".join(out)


class Text:
    """What a text says, in a model."""

    def __init__(self, model, names, text):
        self.model = model
        need(len(text.encode()) <= 2**28, "too large")
        lines = text.split("\n")
        ended = lines.pop() == "" if text.endswith("\n") else False
        last = len(lines) - 1
        lines = [l[:-1] if l.endswith("\r") and (ended or i < last) else l for i, l in enumerate(lines)]
        need(all(len(line.encode()) <= 2**20 for line in lines), "too long a line")
        need(not any(line.endswith(" ") for line in lines), "a space at the end of a line")
        self.lines = lines
        self.at = 0
        need(self.take() == "permil certificate 1", "head")
        words = self.take().split(" ")
        if words == ["claim", "none"]:
            self.loss = None
        else:
            need(len(words) == 3 and words[:2] == ["claim", "none-below"], "claim")
            self.loss = number(words[2])
            need(self.loss >= 0, "claim below 0")
        self.caps = list(model.get("caps", []))
        if self.loss is not None:
            self.caps += [{**view, "most": self.loss} for view in model.get("views", [])]
        for k, own in enumerate(names):
            words = self.take().split(" ", 2)
            need(len(words) == 3 and words[:2] == ["column", str(k)], "column")
            need(name(words[2]) == own, "name")
        self.remainders = []
        while self.peek().startswith("remainder "):
            words = self.take().split(" ")
            need(len(words) == 6 and words[2] == "step" and words[4] == "columns", "remainder")
            need(words[1] == str(len(self.remainders)) and len(self.remainders) < 16, "remainder's number")
            listed = [index(k, len(names)) for k in words[5].split(",")]
            self.remainders.append((dose(words[3]), listed))
        self.least = self.bound("d least ")
        self.most = self.bound("d most ")
        need(self.take() == "tree", "tree")
        self.tree = [self.entry(line) for line in lines[self.at :]]
        need(len(self.tree) <= 2**21, "too large a tree")

    def peek(self):
        need(self.at < len(self.lines), "ends early")
        return self.lines[self.at]

    def take(self):
        line = self.peek()
        self.at += 1
        return line

    def bound(self, head):
        if not self.peek().startswith(head):
            return None
        at, by, multipliers = self.take()[len(head) :].partition(" by ")
        need(by, "bound on D")
        at, multipliers = number(at), self.multipliers(multipliers)
        need(at >= 0 and multipliers["o"] == 0 and multipliers["d"] == 0, "bound on D")
        return at, multipliers

    def multipliers(self, text):
        words = text.split(" ")
        need(words[0] in ("0", "1"), "weight of the loss")
        model = self.model
        by = {"o": int(words[0]), "s": F(0), "d": F(0), "t": {}, "r": {}, "c": {}, "m": {}, "l": {}, "k": {}}
        sizes = {
            "t": len(model["targets"]),
            "r": len(model["rows"]),
            "c": len(model["counts"]),
            "m": len(self.remainders),
            "l": 3 if self.top() else 0,
        }
        caps = self.caps
        before = (-1, -1, -1)
        for word in words[1:]:
            key, equals, value = word.partition("=")
            need(equals, "multiplier")
            value = number(value)
            need(value != 0, "multiplier of 0")
            if key in ("s", "d"):
                place = ("sdtrcml".index(key), -1, -1)
                by[key] = value
            elif key[:1] == "k":
                cap, point, target = key[1:].partition(".")
                cap = index(cap, len(caps))
                if point:
                    need(cap in by["k"], "target before its cap")
                    target = index(target, len(caps[cap]["targets"]))
                    by["k"][cap][1][target] = value
                else:
                    need(value > 0, "sign of a multiplier")
                    target = -1
                    by["k"][cap] = (value, {})
                place = (7, cap, target)
            else:
                kind = key[:1]
                need(kind in sizes, "kind of multiplier")
                i = index(key[1:], sizes[kind])
                place = ("sdtrcml".index(kind), i, -1)
                by[kind][i] = value
                need(kind not in ("r", "c", "l") or value > 0, "sign of a multiplier")
            need(place > before, "order of multipliers")
            before = place
        return by

    def top(self):
        ladder = self.model.get("ladder")
        return len(ladder["steps"]) if ladder else 0

    def said(self, text):
        if text == "out":
            return ("out", None)
        for kind in ("in>=", ">=", "<="):
            if text.startswith(kind):
                return (kind, dose(text[len(kind) :]))
        raise No("said")

    def changes(self, text):
        out, before = [], (-1, -1)
        for change in text.split(", "):
            k, space, said = change.partition(" ")
            need(space, "change")
            k, said = index(k, len(self.model["columns"])), self.said(said)
            place = (k, ["out", "in>=", ">=", "<="].index(said[0]))
            need(place > before, "order of changes")
            before = place
            out.append((k, said))
        return out

    def of_the_claim(self, text):
        by = self.multipliers(text)
        need(self.loss is not None or by["o"] == 0, "the loss is no reason here")
        return by

    def entry(self, line):
        if line == "empty":
            return ("empty",)
        word, space, rest = line.partition(" ")
        need(space, "line")
        if word == "closed":
            return ("closed", self.of_the_claim(rest))
        if word == "narrowed":
            by, colon, changes = rest.partition(" : ")
            need(colon, "narrowed")
            return ("narrowed", self.of_the_claim(by), self.changes(changes))
        if word == "on-grid":
            need(rest.startswith(": "), "on-grid")
            return ("on-grid", self.changes(rest[2:]))
        if word == "split":
            k, colon, sides = rest.partition(" : ")
            less, comma, more = sides.partition(", ")
            need(colon and comma, "split")
            return ("split", index(k, len(self.model["columns"])), self.said(less), self.said(more))
        if word == "split-remainder":
            i, colon, sides = rest.partition(" : ")
            less, comma, more = sides.partition(", ")
            need(colon and comma and less[:2] == "<=" and more[:2] == ">=", "split-remainder")
            return ("split-remainder", index(i, len(self.remainders)), dose(less[2:], -WHOLE), dose(more[2:], -WHOLE))
        if word == "split-d":
            at = number(rest)
            need(at > 0, "split-d")
            return ("split-d", at)
        if word == "split-ladder":
            return ("split-ladder", index(rest, self.top()))
        raise No("line")


# ---------------------------------------------------------------- parts


def grid(column):
    if column["step"] > 0 and column["least"] % column["step"] == 0:
        return column["step"]
    if column["least"] == column["most"] and column["least"] > 0:
        return column["least"]
    return 1


def multiple_from(dose, g):
    return -(-dose // g) * g


def multiple_to(dose, g):
    return dose // g * g


def is_multiple(of, g):
    return of == 0 if g == 0 else of % g == 0


class Part:
    """out[k], (low[k], high[k]), sums[i], D, rungs."""

    def __init__(self, out, low, high, sums, d, rungs, void=False):
        self.out, self.low, self.high, self.sums, self.d, self.void = out, low, high, sums, d, void
        self.rungs = rungs

    def copy(self):
        return Part(self.out[:], self.low[:], self.high[:], self.sums[:], self.d, self.rungs, self.void)

    def is_in(self, k):
        return self.low[k] <= self.high[k]

    def keep(self, k, said, g):
        kind, x = said
        if kind == "out":
            self.low[k], self.high[k] = 1, 0
        elif kind == "<=":
            self.high[k] = min(self.high[k], multiple_to(x, g))
        else:
            self.low[k] = max(self.low[k], multiple_from(x, g))
            if kind == "in>=":
                self.out[k] = False

    def rest_of(self, said, out, low, high, g):
        """(out, low, high) that is left out of (out, low, high)."""
        kind, x = said
        if kind == "out":
            return False, low, high
        if kind == "<=":
            return False, max(low, multiple_to(x, g) + g), high
        return out and kind == "in>=", low, min(high, multiple_from(x, g) - g)

    def left_out(self, k, said, g):
        return self.rest_of(said, self.out[k], self.low[k], self.high[k], g)


class Checker:
    def __init__(self, model, names, text):
        self.model = model
        self.columns = model["columns"]
        self.n = len(self.columns)
        self.grids = [grid(column) for column in self.columns]
        self.q = [F(column["q"]) for column in self.columns]
        self.text = Text(model, names, text)
        self.room = [self.room_of(row) for row in model["rows"]]
        self.caps = self.text.caps
        self.cap_room = [self.room_of_cap(cap) for cap in self.caps]

    def room_of(self, row):
        sizes = [F(0)] * self.n
        for k, a in row["entries"]:
            sizes[k] += abs(F(a))
        for k, c in row["cancelled"]:
            sizes[k] += F(c)
        filled = sum((size * F(column["most"], UNIT) for size, column in zip(sizes, self.columns)), F(0))
        of_bound = abs(F(row["upper"])) + F(row["upper_cancelled"])
        return (of_bound + min(1000 * max(sizes, default=F(0)), filled)) / 2**46

    def rung_row(self, part, kind):
        """The row of a part's rungs, as entries and its bound with room; None
        where the part has no such row."""
        low, high = part.rungs
        ladder = self.model["ladder"]
        steps, strength = ladder["steps"], list(enumerate(ladder["strength"]))
        if kind == 0:
            if high >= len(steps):
                return None
            entries, upper = strength, steps[high]["strength"]
        elif low == 0:
            return None
        elif kind == 1:
            entries, upper = [(k, -a) for k, a in strength], -steps[low - 1]["strength"]
        else:
            entries, upper = steps[low - 1]["entries"], ladder["most"]
        row = {"entries": entries, "upper": upper, "cancelled": [], "upper_cancelled": 0}
        return [(k, F(a)) for k, a in entries], F(upper) + self.room_of(row)

    def room_of_cap(self, cap):
        sizes = []
        for column in cap["columns"]:
            q, odours = F(column["q"]), {}
            for d, odour in column["odours"]:
                odours[d] = odours.get(d, 0) + F(odour)
            size = F(cap["most"]) * q
            for d, target in enumerate(cap["targets"]):
                most = F(target["weight"]) * max(F(1), F(target["excess"]))
                size += most * (odours.get(d, 0) + F(target["score"]) * q)
            sizes.append(size)
        filled = sum((size * F(column["most"], UNIT) for size, column in zip(sizes, self.columns)), F(0))
        return min(1000 * max(sizes, default=F(0)), filled) / 2**46

    def whole(self):
        counted = {k for count in self.model["counts"] for k in count["columns"]}
        out, low, high = [], [], []
        for k, column in enumerate(self.columns):
            g, least, most = self.grids[k], column["least"], column["most"]
            high.append(multiple_to(most, g))
            simply = k not in counted and not column["must"] and least <= most and least <= max(column["step"], 1000)
            if simply:
                out.append(False)
                low.append(0)
            elif least == 0:
                out.append(True)
                low.append(g)
            else:
                out.append(not column["must"])
                low.append(multiple_from(least, g))
        sums = []
        for step, listed in self.text.remainders:
            need(step > 0, "remainder's step")
            need(all(a < b for a, b in zip(listed, listed[1:])), "remainder's order")
            for k, column in enumerate(self.columns):
                if k in listed:
                    continue
                on = column["least"] % step == 0
                even = column["least"] == column["most"] or (column["step"] > 0 and column["step"] % step == 0)
                need(on and even, "remainder leaves out a column")
            end = min(WHOLE, sum(self.columns[k]["most"] for k in listed))
            sums.append((WHOLE - multiple_to(WHOLE, step), WHOLE - multiple_from(WHOLE - end, step)))
        crude = (F(0), 1000 * max(self.q, default=F(0)))
        part = Part(out, low, high, sums, crude, (0, self.text.top()))
        least, most = crude
        if self.text.least:
            at, by = self.text.least
            total = self.total(part, by, extra=1)
            need(total is None or total >= at, "least D")
            least = at
        if self.text.most:
            at, by = self.text.most
            total = self.total(part, by, extra=-1)
            need(total is None or total >= -at, "greatest D")
            most = at
        if least > most:
            least, most = least - least / 2**30, most + most / 2**30
        part.d = (least, most)
        return part

    def own(self, part, by, extra=0):
        """(own_k, using_k) of every column."""
        o, loss = by["o"], self.text.loss or F(0)
        v = {}
        for i, value in by["t"].items():
            w, e = F(self.model["targets"][i]["weight"]), F(self.model["targets"][i]["excess"])
            v[i] = min(max(value, -o * w), o * w * e)
        of_d = -o * loss - by["d"] - sum((value * F(self.model["targets"][i]["score"]) for i, value in v.items()), F(0))
        own = [q * (of_d + extra) - by["s"] for q in self.q]
        using = [F(0)] * self.n
        for k, column in enumerate(self.columns):
            for i, odour in column["odours"]:
                own[k] += v.get(i, 0) * F(odour)
        for r, rho in by["r"].items():
            for k, a in self.model["rows"][r]["entries"]:
                own[k] += rho * F(a)
        for kind, rho in by["l"].items():
            for k, a in (self.rung_row(part, kind) or ([],))[0]:
                own[k] += rho * a
        for c, (kappa, of) in by["k"].items():
            cap = self.caps[c]
            of_d, sides = -kappa * F(cap["most"]), {}
            for d, value in of.items():
                target = cap["targets"][d]
                w, e = F(target["weight"]), F(target["excess"])
                sides[d] = min(max(value, -kappa * w), kappa * w * e)
                of_d -= sides[d] * F(target["score"])
            for k, column in enumerate(cap["columns"]):
                own[k] += of_d * F(column["q"])
                own[k] += sum((sides.get(d, 0) * F(odour) for d, odour in column["odours"]), F(0))
        for m, tau in by["m"].items():
            for k in self.text.remainders[m][1]:
                own[k] -= tau
        for c, mu in by["c"].items():
            for k in self.model["counts"][c]["columns"]:
                using[k] += mu
        return own, using

    def total(self, part, by, extra=0, instead=None):
        """The total; None where it is infinite. `instead` is (k, doses)."""
        own, using = self.own(part, by, extra)
        total = 1000 * by["s"]
        for r, rho in by["r"].items():
            total -= rho * (F(self.model["rows"][r]["upper"]) + self.room[r])
        for kind, rho in by["l"].items():
            total -= rho * (self.rung_row(part, kind) or ([], F(0)))[1]
        for c, mu in by["c"].items():
            total -= mu * self.model["counts"][c]["most"]
        for c, (kappa, _) in by["k"].items():
            total -= kappa * self.cap_room[c]
        for m, tau in by["m"].items():
            total += min(tau * F(end, UNIT) for end in part.sums[m])
        total += min(by["d"] * end for end in part.d)
        for k in range(self.n):
            out, low, high = part.out[k], part.low[k], part.high[k]
            if instead and instead[0] == k:
                out, low, high = instead[1]
            if self.q[k] > 0:
                high = min(high, (part.d[1] * UNIT / self.q[k]).__floor__() if part.d[1] > 0 else 0)
            offers = [F(0)] if out else []
            if low <= high:
                offers += [own[k] * F(x, UNIT) + using[k] for x in (low, high)]
            if not offers:
                return None
            total += min(offers)
        return total

    def proves(self, part, by, instead=None):
        total = self.total(part, by, instead=instead)
        return total is None or (total >= 0 if by["o"] else total > 0)

    def settle(self, part):
        for count in self.model["counts"]:
            used = sum(not part.out[k] for k in count["columns"])
            if used > count["most"]:
                part.void = True
            elif used == count["most"]:
                for k in count["columns"]:
                    if part.out[k]:
                        part.low[k], part.high[k] = 1, 0
        for k in range(self.n):
            part.void = part.void or not (part.out[k] or part.is_in(k))
        part.void = part.void or any(a > b for a, b in part.sums) or part.d[0] > part.d[1]
        part.void = part.void or part.rungs[0] > part.rungs[1]

    def is_settled(self, part, k):
        return not part.is_in(k) or (not part.out[k] and part.low[k] == part.high[k])

    def sum_without(self, part, but):
        g, rest = 0, WHOLE
        for k in range(self.n):
            if k == but:
                continue
            if not self.is_settled(part, k):
                g = gcd(g, self.grids[k])
            elif part.is_in(k):
                rest -= part.low[k]
        return g, rest

    def completes(self, part, k, doses):
        """Whether one of some doses of k completes the sum."""
        out, low, high = doses
        g, rest = self.sum_without(part, k)
        if out and is_multiple(rest, g):
            return True
        if low > high:
            return False
        own = self.grids[k]
        low = multiple_from(low, own)
        if g == 0:
            return low <= rest <= high and rest % own == 0
        # low + i own = rest modulo g, for some i from 0 on.
        common = gcd(own, g)
        if (rest - low) % common:
            return False
        period = g // common
        i = (rest - low) // common * pow(own // common, -1, period) % period if period > 1 else 0
        return low + i * own <= high

    def is_empty(self, part):
        if self.model["contradiction"]:
            return True
        if not any(q > 0 and part.is_in(k) for k, q in enumerate(self.q)):
            return True
        g, rest = self.sum_without(part, None)
        if not is_multiple(rest, g):
            return True
        for k in range(self.n):
            if not self.is_settled(part, k) and not self.completes(part, k, (part.out[k], part.low[k], part.high[k])):
                return True
        return False

    def check(self):
        waiting = [self.whole()]
        for entry in self.text.tree:
            need(waiting, "goes on after its end")
            part = waiting.pop()
            self.settle(part)
            kind = entry[0]
            if kind == "closed":
                need(part.void or self.proves(part, entry[1]), "closed")
            elif kind == "empty":
                need(part.void or self.is_empty(part), "empty")
            elif kind in ("narrowed", "on-grid"):
                after = part.copy()
                for k, said in entry[-1]:
                    left = part.left_out(k, said, self.grids[k])
                    after.keep(k, said, self.grids[k])
                    if part.void or not (left[0] or left[1] <= left[2]):
                        continue
                    if kind == "narrowed":
                        need(self.proves(part, entry[1], instead=(k, left)), "narrowed")
                    else:
                        need(not self.completes(part, k, left), "on-grid")
                waiting.append(after)
            else:
                first, second = part.copy(), part.copy()
                if kind == "split":
                    _, k, less, more = entry
                    g = self.grids[k]
                    out, low, high = part.rest_of(more, *part.left_out(k, less, g), g)
                    need(part.void or not (out or low <= high), "split")
                    first.keep(k, less, g)
                    second.keep(k, more, g)
                elif kind == "split-remainder":
                    _, i, at_most, at_least = entry
                    step = self.text.remainders[i][0]
                    following = WHOLE - multiple_to(WHOLE - at_most - 1, step)
                    need(part.void or at_least <= following, "split-remainder")
                    a, b = part.sums[i]
                    first.sums[i], second.sums[i] = (a, min(b, at_most)), (max(a, at_least), b)
                elif kind == "split-ladder":
                    a, b = part.rungs
                    first.rungs, second.rungs = (a, min(b, entry[1])), (max(a, entry[1] + 1), b)
                else:
                    a, b = part.d
                    first.d, second.d = (a, min(b, entry[1])), (max(a, entry[1]), b)
                waiting += [second, first]
            need(len(waiting) * self.n <= 2**22, "too many parts")
        need(not waiting, "ends early")


def verdict(model, names, text):
    try:
        Checker(model, names, text).check()
        return "y"
    except No as why:
        if "-v" in sys.argv:
            print(why, file=sys.stderr)
        return "n"


def main():
    for path in sys.argv[1:]:
        if path == "-v":
            continue
        with open(path, encoding="utf-8") as file:
            case = json.load(file)
        print("".join(verdict(case["model"], case["names"], text) for text in case["certificates"]), flush=True)


if __name__ == "__main__":
    main()
