"""Commands about readings load no model and no solver: these take longer to load than the commands run."""

import subprocess
import sys

import pytest


@pytest.mark.parametrize("name", ["convert_readings", "check_readings", "assign_readings"])
def test_commands_about_readings_load_no_model(name):
    code = (
        f"import sys; from strikeoff import workbench; workbench.{name}; "
        "print([n for n in sys.modules if n.startswith(('strikeoff.model', 'scipy.optimize'))])"
    )
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert done.stdout.strip() == "[]"
