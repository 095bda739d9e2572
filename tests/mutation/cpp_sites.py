"""Mistakes put into the C++ headers, all in one build: LIBCURE_MUTANT=N at run time makes mistake N, no number none."""

import re
from dataclasses import dataclass
from pathlib import Path

#: Stands in the header that all others reach. While compiling nothing is mistaken, so constants stay what they are.
SWITCHES = """
#include <cstdlib>
#include <fcntl.h>
#include <sys/mman.h>
#include <type_traits>
#include <unistd.h>
inline int mutant_made() {
  static int const made = [] {
    char const* const number = std::getenv("LIBCURE_MUTANT");
    return number ? std::atoi(number) : 0;
  }();
  return made;
}
// A byte for each mistake, in a file that outlives a process however it ends.
inline char* mutants_reached() {
  static char* const reached = []() -> char* {
    char const* const name = std::getenv("LIBCURE_MUTANTS_REACHED");
    static char nobody_asks[4096];
    if (!name) return nobody_asks;
    int const file = ::open(name, O_RDWR | O_CREAT, 0644);
    if (file < 0 || ::ftruncate(file, 4096) != 0) std::abort();
    return static_cast<char*>(::mmap(nullptr, 4096, PROT_READ | PROT_WRITE, MAP_SHARED, file, 0));
  }();
  return reached;
}
inline bool mutant_now(int number) {
  mutants_reached()[number] = 1;
  return mutant_made() == number;
}
constexpr bool mutant(int number) { return std::is_constant_evaluated() ? false : mutant_now(number); }
constexpr double mutant_number(int number, double value) { return mutant(number) ? (value == 0 ? 1.0 : 1.1 * value) : value; }
constexpr double mutant_sign(int number) { return mutant(number) ? -1.0 : 1.0; }
// In a constant: it must not be known before the program runs.
inline double mutant_number_now(int number, double value) { return mutant_now(number) ? (value == 0 ? 1.0 : 1.1 * value) : value; }
inline double mutant_sign_now(int number) { return mutant_now(number) ? -1.0 : 1.0; }
"""

#: A word and a comparison it is taken for.
TAKEN_FOR = {" < ": " <= ", " <= ": " < ", " > ": " >= ", " >= ": " > ", " == ": " != ", " != ": " == ", " && ": " || ", " || ": " && "}


@dataclass(frozen=True)
class Site:
    """``text`` replaces ``[start, end)`` of the file; {n} is the number of the mistake."""

    file: Path
    line: int
    start: int
    end: int
    kind: str
    text: str
    last_line: int


def without_comments(text: str) -> str:
    """The same length; comments, texts in quotes and the preprocessor's lines blank."""
    pattern = r'//[^\n]*|/\*.*?\*/|"(?:\\.|[^"\\\n])*"|\'(?:\\.|[^\'\\\n])\'|^\s*#[^\n]*'
    return re.sub(pattern, lambda m: re.sub(r"[^\n]", " ", m[0]), text, flags=re.S | re.M)


def closing(text: str, opened: int) -> int:
    """Where the bracket that opens at ``opened`` is closed."""
    depth = 0
    for at in range(opened, len(text)):
        depth += (text[at] in "([{") - (text[at] in ")]}")
        if depth == 0:
            return at
    return -1


def _conditions(code: str, source: str):
    for match in re.finditer(r"\b(?:if|while) \(", code):
        opened = match.end() - 1
        closed = closing(code, opened)
        condition = code[opened + 1 : closed]
        if closed < 0 or ";" in condition or re.search(r"\b(auto|\w+ const)\b", condition):
            continue
        whole = source[opened + 1 : closed]
        yield opened + 1, closed, "condition negated", "mutant({n}) != static_cast<bool>(" + whole + ")"
        found = [(word, at) for word in TAKEN_FOR for at in [condition.find(word)] if at >= 0]
        if len(found) == 1 and condition.count(found[0][0]) == 1 and not re.search(r"[(\[{,?][^)\]}]*" + re.escape(found[0][0]), condition):
            word, at = found[0]
            other = whole[:at] + TAKEN_FOR[word] + whole[at + len(word) :]
            yield opened + 1, closed, f"{word.strip()} taken for {TAKEN_FOR[word].strip()}", f"mutant({{n}}) ? ({other}) : ({whole})"


def _numbers(code: str, _source: str):
    for match in re.finditer(r"(?<![\w.])\d+\.\d*(?:e[+-]?\d+)?(?![\w.])|(?<![\w.])\d+e[+-]?\d+(?![\w.])", code):
        yield match.start(), match.end(), "a tenth more", f"mutant_number({{n}}, {match[0]})"


def _signs(code: str, _source: str):
    for match in re.finditer(r"(?<=[\w)\]]) [+-] (?=[\w(])", code):
        yield match.end(), match.end(), "other sign", "mutant_sign({n}) * "


def _statements(code: str, _source: str):
    for match in re.finditer(r"(?<=[;{}]\n)( +)((?!return\b|using\b|throw\b|break\b|continue\b)[\w.>\[\]-]+(?:\([^;{}]*\)| [+*/-]?= [^;{}]*));", code):
        yield match.start(2), match.start(2), "left out", "if (!mutant({n})) "


def _run_time(code: str, source: str, start: int, text: str) -> tuple[int, str] | None:
    """Where the change begins, and its text: a constant with a mistake is known when the program runs. None for what only the
    compiler looks at."""
    begin = max(code.rfind(sign, 0, start) for sign in (";", "}\n", "{\n")) + 1
    if re.match(r"\s*(static_assert|requires|if constexpr)\b", code[begin:start]):
        return None
    constant = re.match(r"\s*((?:inline |static )*)constexpr (?=[\w:<>, ]+ \w+(?:\[\w*\])?\s*(?: =|\{))", code[begin:start])
    if constant is None:
        return start, text
    # A member of a type is initialised there if it is inline.
    inline = "static inline " if "static" in constant[1] else constant[1]
    return begin + constant.start(1), inline + "const " + source[begin + constant.end() : start] + re.sub(r"\b(mutant_number|mutant_sign)\b", r"\1_now", text)


def sites(file: Path) -> list[Site]:
    source = file.read_text()
    code = without_comments(source)
    found = []
    for of in (_conditions, _numbers, _signs, _statements):
        for start, end, kind, text in of(code, source):
            if (change := _run_time(code, source, start, text)) is not None:
                found.append(Site(file, code.count("\n", 0, start) + 1, change[0], end, kind, change[1], code.count("\n", 0, end) + 1))
    return found


def put_in(text: str, chosen: list[tuple[int, Site]]) -> str:
    """The file's text with the numbered mistakes; they must not overlap."""
    for number, site in sorted(chosen, key=lambda one: -one[1].start):
        text = text[: site.start] + site.text.replace("{n}", str(number)) + text[site.end :]
    return text


def apart(chosen: list[Site]) -> list[Site]:
    """Those that do not overlap one before them in the list."""
    kept: list[Site] = []
    for site in chosen:
        if all(site.file != other.file or site.end < other.start or site.start > other.end for other in kept):
            kept.append(site)
    return kept
