"""The page's modules in one script."""

import json
import re

import pytest
from wirerun.write.html_map.assets import own_file, own_script
from wirerun.write.html_map.modules import joined

MODULES = {
    "main.js": 'import { double as twice } from "./sums.js";\nimport * as words from "./words.js";\n'
    "export function run() {\n  return words.say(twice(2));\n}\n",
    "sums.js": 'import FACTORS from "./factors.json" with { type: "json" };\n'
    "const hidden = 1;\nexport const double = (x) => FACTORS.two * x * hidden;\n",
    "words.js": 'import {\n  double,\n} from "./sums.js";\nexport async function say(x) {\n  return double(x);\n}\n',
    "factors.json": '{ "two": 2 }\n',
}


def test_a_module_stands_after_what_it_imports_and_once() -> None:
    script = joined("main.js", MODULES.__getitem__, "Page")
    assert re.findall(r"^const (\$\w+) =", script, re.MULTILINE) == ["$factors", "$sums", "$words", "$main"]
    assert "import" not in script
    assert "export" not in script
    assert script.startswith('"use strict";\nconst Page = (() => {')
    assert script.endswith("return $main;\n})();")


def test_imports_and_exports_become_constants() -> None:
    lines = joined("main.js", MODULES.__getitem__, "Page").splitlines()
    assert "const { double: twice } = $sums;" in lines
    assert "const words = $words;" in lines
    assert "const FACTORS = $factors;" in lines
    assert 'const $factors = { "two": 2 };' in lines
    assert [line for line in lines if line.startswith("return {")] == [
        "return { double };",
        "return { say };",
        "return { run };",
    ]


def test_modules_in_a_circle_are_refused() -> None:
    circle = {"main.js": 'import { b } from "./b.js";\n', "b.js": 'import { run } from "./main.js";\n'}
    with pytest.raises(ValueError, match=r"circle: main.js > b.js > main.js"):
        joined("main.js", circle.__getitem__, "Page")


@pytest.mark.parametrize(
    "line",
    ["export { run };", "export let on = 1;", "export default 1;", 'import "./b.js";', "import { a } from './b.js';"],
)
def test_what_cannot_be_joined_is_refused(line: str) -> None:
    with pytest.raises(ValueError, match=r"main.js cannot be joined to the rest"):
        joined("main.js", {"main.js": f"{line}\n", "b.js": ""}.__getitem__, "Page")


def test_our_own_script_has_every_module_and_the_colours() -> None:
    script = own_script()
    assert {"$decode", "$hit", "$units", "$totals", "$layer", "$main"} <= set(
        re.findall(r"^const (\$\w+) =", script, re.MULTILINE)
    )
    assert json.dumps(json.loads(own_file("colours.json"))["screen"]["ink"]) in script
    assert "</script" not in script.lower()
