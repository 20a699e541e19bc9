"""The faults that the mutation run puts in are none of yesterday's code."""

import pytest

from tests.mutation.__main__ import PROJECT, Fault, faults, text_with


@pytest.mark.parametrize("fault", faults(), ids=lambda fault: fault.name)
def test_each_fault_still_has_its_place_and_is_another_program(fault: Fault) -> None:
    mutated = text_with(fault, PROJECT)
    assert mutated != (PROJECT / fault.file).read_text()
    compile(mutated, fault.file, "exec")
    assert all((PROJECT / test).is_file() for test in fault.tests)
