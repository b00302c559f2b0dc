"""Fits CategoricalNB of scikit-learn with alpha 1 to the weather table and prints its probabilities for the evidence in the grid.

Started as `python3 - TABLE GRID`, with this text as standard input: quinlan_1986_table1.csv and
weather_categoricalnb_alpha1.csv, of which only the evidence is read. One line a row of the grid: P(N) and P(P) with all their digits.
"""

import csv
import sys

import sklearn
from sklearn.naive_bayes import CategoricalNB
from sklearn.preprocessing import OrdinalEncoder


def table(path):
    with open(path, newline="", encoding="utf-8") as file:
        return list(csv.reader(file))[1:]


def spelled(evidence):
    """The spelling of Quinlan: the grid has that of Witten and Frank."""
    return ["rain" if word == "rainy" else word.lower() for word in evidence]


days = table(sys.argv[1])
encoder = OrdinalEncoder(dtype=int).fit([day[1:5] for day in days])
model = CategoricalNB(alpha=1).fit(encoder.transform([day[1:5] for day in days]), [day[5] for day in days])
if list(model.classes_) != ["N", "P"]:
    sys.exit(f"unexpected classes {model.classes_}")
print("scikit-learn", sklearn.__version__, file=sys.stderr)
for no, yes in model.predict_proba(encoder.transform([spelled(row[:4]) for row in table(sys.argv[2])])):
    print(repr(float(no)), repr(float(yes)))
