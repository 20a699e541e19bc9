"""The public computations under their names, for whoever has numbers in hand and no record.

A reckoning is a function of the almanac or the trades. Its inputs, their kinds and their bounds are
read from the function itself, and its numbers are computed by it: nothing is computed here.
"""

from landscape_care.trades.reckoning.answering import Answer, answer
from landscape_care.trades.reckoning.register import Input, Reckoning, by_craft, reckoning, reckonings
from landscape_care.trades.reckoning.writing import CRAFTS, Table, Told, in_words, plain, shown, typed
from landscape_care.trades.reckoning.wrong import Wrong

__all__ = [
    "CRAFTS",
    "Answer",
    "Input",
    "Reckoning",
    "Table",
    "Told",
    "Wrong",
    "answer",
    "by_craft",
    "in_words",
    "plain",
    "reckoning",
    "reckonings",
    "shown",
    "typed",
]
