"""Mistakes in the Python front, one at a time, each as the text of a file."""

import ast
from dataclasses import dataclass
from pathlib import Path

_TAKEN_FOR = {
    ast.Lt: "<=", ast.LtE: "<", ast.Gt: ">=", ast.GtE: ">", ast.Eq: "!=", ast.NotEq: "==", ast.In: "not in", ast.NotIn: "in",
    ast.Is: "is not", ast.IsNot: "is", ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*", ast.And: "or", ast.Or: "and",
}  # fmt: skip


@dataclass(frozen=True)
class Site:
    """``text`` replaces what stands between two places of the file (line from 1, byte of the line from 0)."""

    file: Path
    line: int
    start: tuple[int, int]
    end: tuple[int, int]
    kind: str
    text: str


def _place(node: ast.AST) -> tuple[tuple[int, int], tuple[int, int]]:
    return (node.lineno, node.col_offset), (node.end_lineno, node.end_col_offset)


def _of(node: ast.AST, source: str):
    """What may go wrong at a node: kind, the node that is replaced, text."""

    def text(part: ast.AST) -> str:
        return ast.get_source_segment(source, part)

    match node:
        case ast.Compare(left=left, ops=[op], comparators=[right]) if type(op) in _TAKEN_FOR:
            yield "another comparison", node, f"({text(left)} {_TAKEN_FOR[type(op)]} {text(right)})"
        case ast.BinOp(left=left, op=op, right=right) if type(op) in _TAKEN_FOR and not isinstance(left, ast.JoinedStr | ast.Constant):
            yield "another operator", node, f"(({text(left)}) {_TAKEN_FOR[type(op)]} ({text(right)}))"
        case ast.BoolOp(op=op, values=[left, right]):
            yield "and taken for or", node, f"(({text(left)}) {_TAKEN_FOR[type(op)]} ({text(right)}))"
        case ast.If(test=test) | ast.IfExp(test=test) | ast.While(test=test):
            yield "condition negated", test, f"(not ({text(test)}))"
        case ast.Constant(value=bool(value)):
            yield "true taken for false", node, str(not value)
        case ast.Constant(value=int(value) | float(value)):
            yield "another number", node, repr(value + 1 if isinstance(value, int) else 1.1 * value or 1.0)
        case ast.Expr(value=ast.Call()) | ast.AugAssign():
            yield "left out", node, "pass"


def _without_mistakes(node: ast.AST, file: Path) -> list[ast.AST]:
    """Texts, what a type checker reads, what decorators are told (a frozen class that is not does the same), and how large and dark
    something is drawn: a tenth more is taste. Places in lists, counts and signs of drawings do get mistakes."""
    match node:
        case ast.JoinedStr():
            return [node]
        case ast.AnnAssign(annotation=annotation) | ast.arg(annotation=annotation) if annotation:
            return [annotation]
        case ast.ClassDef(decorator_list=told):
            return told
        case ast.Constant(value=float()) if "render" in file.parts:
            return [node]
    return []


def sites(file: Path) -> list[Site]:
    source = file.read_text()
    tree = ast.parse(source)
    passed_over = {inner for node in ast.walk(tree) for part in _without_mistakes(node, file) for inner in ast.walk(part)}
    return [
        Site(file, node.lineno, *_place(replaced), kind, text)
        for node in ast.walk(tree)
        if node not in passed_over
        for kind, replaced, text in _of(node, source)
    ]


def put_in(site: Site, source: str) -> str:
    lines = source.encode().splitlines(keepends=True)
    start, end = (sum(map(len, lines[: line - 1])) + column for line, column in (site.start, site.end))
    whole = b"".join(lines)
    return (whole[:start] + site.text.encode() + whole[end:]).decode()
