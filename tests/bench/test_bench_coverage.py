"""The benchmark command on a circle small enough for every run of the tests."""

from __future__ import annotations

import io
import re

from django.core.management import call_command


def test_it_times_the_stages_and_compares_with_the_path_calculation() -> None:
    out = io.StringIO()
    call_command("bench_coverage", radius=24, repeat=1, pixels=40, threads=2, stdout=out)
    said = out.getvalue()
    assert said.count("processor time: ground") == 3
    assert re.search(r"Most memory held: \d+ MB", said)
    assert re.search(r"radial of 3000 samples.*: \d+ ns a sample", said)
    found = re.search(r"(\d+) pixels computed alone.* 95 % by less than ([\d.]+) dB", said)
    assert found is not None
    assert int(found[1]) > 20
    assert float(found[2]) < 1.0
