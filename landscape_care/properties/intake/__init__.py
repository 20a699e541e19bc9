"""Gardens in from spreadsheets: check files, apply what was checked, and the empty workbook to fill in."""

from landscape_care.properties.intake.applying import IntakeRefused, apply
from landscape_care.properties.intake.checking import check
from landscape_care.properties.intake.found import Counts, Intake, RowProblem
from landscape_care.properties.intake.reading import Source
from landscape_care.properties.intake.templates import template

__all__ = ["Counts", "Intake", "IntakeRefused", "RowProblem", "Source", "apply", "check", "template"]
