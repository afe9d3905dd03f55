"""How a process that the builder starts for itself begins. It is run as a file by `children.py`.

Before this file imports anything, it takes the two pipes on which it talks with the builder, so that nothing
that is printed later can reach them. It then takes over the builder's own import path, and the builder's own
code from the package that this file lies in.
"""

import os
import sys


def _begin() -> None:
    """Run a module's `main(source, sink, *words)`: the module and its words stand on the command line."""
    module, asked, answering, *words = sys.argv[1:]
    questions, answers = int(asked), int(answering)
    if questions == 0:
        # Only the standard pipes could be handed over. Take them, and leave others in their place.
        questions, answers = os.dup(0), os.dup(1)
        nothing = os.open(os.devnull, os.O_RDWR)
        os.dup2(nothing, 0)
        try:
            os.dup2(2, 1)
        except OSError:
            os.dup2(nothing, 1)
    source, sink = os.fdopen(questions, "rb"), os.fdopen(answers, "wb")
    for pipe in (source, sink):
        os.set_inheritable(pipe.fileno(), False)

    import json

    told = json.loads(source.readline())
    sys.path[:] = told["path"]
    sink.write(told["mark"].encode())
    sink.flush()

    from importlib import import_module
    from importlib.util import module_from_spec, spec_from_file_location

    room = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))  # noqa: PTH100, PTH120 - pathlib is an import more
    first = os.path.join(room, "__init__.py")  # noqa: PTH118
    spec = spec_from_file_location("stavewright", first, submodule_search_locations=[room])
    assert spec is not None
    assert spec.loader is not None
    package = sys.modules["stavewright"] = module_from_spec(spec)
    spec.loader.exec_module(package)
    import_module(module).main(source, sink, *words)


if __name__ == "__main__":
    _begin()
