"""Statements: assignments, branches, loops, returns."""

import ast
from collections.abc import Sequence

from radiosim.machine.expressions import Expressions
from radiosim.machine.kinds import I64, NUMBERS, VOID, TupleKind, in_llvm, in_words
from radiosim.machine.writer import RESULT, Value

_INSTEAD = {
    "Assert": "leave checks to what calls it",
    "Raise": "return a number that says so",
    "Try": "return a number that says so",
    "With": "leave files and locks to what calls it",
    "Global": "keep it in a record that is handed in",
    "FunctionDef": "write it at the top of the module",
    "Delete": "leave it",
    "Match": "write if and elif",
}


class Statements(Expressions):
    """Statements of one function."""

    def write(self, tree: ast.FunctionDef) -> None:
        """The whole function."""
        given = tree.args
        if given.vararg or given.kwarg or given.kwonlyargs or given.defaults:
            self.refuse(tree, "arguments are optional or of any number; name all, without defaults")
        for k, (argument, kind) in enumerate(zip(given.args, self.kinds, strict=True)):
            self.store_name(argument, argument.arg, (f"%a{k}", kind))
        self.statements(tree.body)
        if not self.is_over:
            if self.result not in (None, VOID):
                self.refuse(tree.body[-1], "it ends without a result; return one here")
            self.result = VOID
            self.put("ret void")

    def statements(self, nodes: Sequence[ast.stmt]) -> None:
        """One after the other, as far as they can be reached."""
        for node in nodes:
            if self.is_over:
                return
            name = type(node).__name__
            do = getattr(self, f"_do_{name.lower()}", None)
            if do is None:
                instead = _INSTEAD.get(name, "use plain statements")
                self.refuse(node, f"{name} is not taken; {instead}")
            do(node)

    def _do_expr(self, node: ast.Expr) -> None:
        if not isinstance(node.value, ast.Constant):
            self.value(node.value)

    def _do_pass(self, node: ast.Pass) -> None:
        pass

    # Assignments

    def _do_assign(self, node: ast.Assign) -> None:
        value = self.value(node.value)
        for target in node.targets:
            self.store(target, value)

    def _do_annassign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self.store(node.target, self.value(node.value))

    def _do_augassign(self, node: ast.AugAssign) -> None:
        if isinstance(node.target, ast.Name):
            if node.target.id not in self.names:
                self.refuse(node, f"{node.target.id} has no value yet; assign it in a line above")
            now = self.load_name(node.target.id)
            self.store(node.target, self.operate(node, node.op, now, self.value(node.value)))
            return
        place = self.place(node.target)
        made = self.operate(node, node.op, self.load(place), self.value(node.value))
        self.store_at(node, place, made)

    def store(self, target: ast.expr, value: Value) -> None:
        """Give a target its value."""
        if isinstance(target, ast.Name):
            self.store_name(target, target.id, value)
        elif isinstance(target, ast.Tuple):
            if not isinstance(value[1], TupleKind) or len(value[1].of) != len(target.elts):
                self.refuse(target, "so many names are not given; name each part of a tuple")
            for part, inner in zip(self.parts(value), target.elts, strict=True):
                self.store(inner, part)
        else:
            self.store_at(target, self.place(target), value)

    def store_at(self, node: ast.AST, place: Value, value: Value) -> None:
        """Give a field or an element its value."""
        text, kind = place
        if kind not in NUMBERS:
            self.refuse(node, f"{in_words(kind)} is assigned as a whole; assign each number of it")
        self.put(f"store {kind} {self.converted(node, value, kind)}, ptr {text}, align 8")

    def _do_return(self, node: ast.Return) -> None:
        if node.value is None or getattr(node.value, "value", self) is None:
            if self.result not in (None, VOID):
                self.refuse(node, "it returns nothing here and a value there; return one here")
            self.result = VOID
            self.put("ret void")
        else:
            value = self.value(node.value)
            if self.result == VOID or value[1] == VOID:
                self.refuse(node, "it returns a value here and nothing there; return one there")
            self.result = self.result or value[1]
            text = self.converted(node, value, self.result, RESULT)
            self.put(f"ret {in_llvm(self.result)} {text}")
        self.is_over = True

    # Branches and loops

    def _do_if(self, node: ast.If) -> None:
        then, other, after = self.fresh("then"), self.fresh("else"), self.fresh("after")
        self.condition(node.test, then, other)
        ends = []
        for label, body in ((then, node.body), (other, node.orelse)):
            self.label(label)
            self.statements(body)
            ends.append(self.is_over)
            self.jump(after)
        if not all(ends):
            self.label(after)

    def _do_while(self, node: ast.While) -> None:
        if node.orelse:
            self.refuse(node, "a loop has an else; set a bool before break")
        head, body, after = self.fresh("head"), self.fresh("body"), self.fresh("after")
        is_endless = isinstance(node.test, ast.Constant) and bool(node.test.value)
        self.jump(head)
        self.label(head)
        if is_endless:
            self.jump(body)
        else:
            self.condition(node.test, body, after)
        self.label(body)
        self.in_loop(node.body, head, after)
        if not is_endless or after in self.broken:
            self.label(after)

    def in_loop(self, body: Sequence[ast.stmt], more: str, after: str) -> None:
        """The body of a loop, and on to where it goes on."""
        self.loops.append((more, after))
        self.statements(body)
        self.loops.pop()
        self.jump(more)

    def _do_for(self, node: ast.For) -> None:
        if node.orelse:
            self.refuse(node, "a loop has an else; set a bool before break")
        if isinstance(node.iter, ast.Tuple):
            self.for_each(node, [self.value(part) for part in node.iter.elts])
        elif isinstance(node.iter, ast.Call) and self.means(node.iter.func, range):
            self.for_range(node, node.iter.args)
        else:
            self.refuse(node, "a loop over what is no range; write for i in range(len(x))")

    def for_each(self, node: ast.For, values: Sequence[Value]) -> None:
        """A loop over a few values: its body so many times."""
        after = self.fresh("after")
        for value in values:
            more = self.fresh("more")
            self.store(node.target, value)
            self.in_loop(node.body, more, after)
            self.label(more)
        self.jump(after)
        self.label(after)

    def for_range(self, node: ast.For, given: Sequence[ast.expr]) -> None:
        """A loop that counts; what its body does to the name that counts is forgotten."""
        bounds = [self.whole_number(part) for part in given]
        first, end, step = [*bounds, "1"][:3] if len(bounds) > 1 else ("0", bounds[0], "1")
        if not step.lstrip("-").isdigit() or int(step) == 0:
            self.refuse(node, "the step of a range is no plain number; write a while loop")
        head, body = self.fresh("head"), self.fresh("body")
        more, after = self.fresh("more"), self.fresh("after")
        counter = f"{node.lineno} {node.col_offset}"
        self.store_name(node, counter, (first, I64))
        self.jump(head)
        self.label(head)
        now = self.load_name(counter)[0]
        word = "slt" if int(step) > 0 else "sgt"
        self.branch(self.made(f"icmp {word} i64 {now}, {end}"), body, after)
        self.label(body)
        self.store(node.target, (now, I64))
        self.in_loop(node.body, more, after)
        self.label(more)
        again = self.made(f"add nsw i64 {self.load_name(counter)[0]}, {step}")
        self.store_name(node, counter, (again, I64))
        self.jump(head)
        self.label(after)

    def _do_continue(self, node: ast.Continue) -> None:
        self.jump(self.loops[-1][0])

    def _do_break(self, node: ast.Break) -> None:
        self.broken.add(self.loops[-1][1])
        self.jump(self.loops[-1][1])
