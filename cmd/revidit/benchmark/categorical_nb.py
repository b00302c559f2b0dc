"""Times CategoricalNB of scikit-learn on a table and cases that `revidit bench assess` has written.

Started as `python3 - FOLDER`, with this text as standard input. FOLDER holds

table.json   log_prior: by class; features: by character, class and state, probabilities above 0;
             count: of cases; singles: how many of them to time one by one; compared: how many to give back;
             rounds: how often the batch is timed
cases.bin    the states of all cases, one byte each, case after case

The answer is one JSON object on standard output. Exit code 3: scikit-learn is not there.
"""

import json
import os
import statistics
import sys
import time

try:
    import numpy as np
    import sklearn
    from sklearn.naive_bayes import CategoricalNB
except ImportError as missing:
    print(missing, file=sys.stderr)
    sys.exit(3)


def fitted(features, log_prior):
    """The classifier that would have come out of a fit with these probabilities."""
    model = CategoricalNB()
    model.classes_ = np.arange(len(log_prior))
    model.n_features_in_ = len(features)
    model.n_categories_ = np.array([f.shape[1] for f in features])
    model.class_log_prior_ = log_prior
    model.class_count_ = np.exp(log_prior)
    model.category_count_ = features
    model.feature_log_prob_ = [np.log(f) for f in features]
    return model


def plainly(features, log_prior, cases):
    """The same posterior, written out: prior times the probabilities of the states, over their sum."""
    joint = np.tile(np.exp(log_prior), (len(cases), 1))
    for i, case in enumerate(cases):
        for character, state in enumerate(case):
            joint[i] *= features[character][:, state]
    return joint / joint.sum(axis=1, keepdims=True)


def seconds(do):
    start = time.perf_counter()
    do()
    return time.perf_counter() - start


def main(folder):
    with open(os.path.join(folder, "table.json"), encoding="utf-8") as file:
        table = json.load(file)
    features = [np.array(f) for f in table["features"]]
    log_prior = np.array(table["log_prior"])
    states = np.fromfile(os.path.join(folder, "cases.bin"), dtype=np.uint8)
    cases = states.reshape(table["count"], len(features)).astype(np.int64)
    model = fitted(features, log_prior)

    compared = model.predict_proba(cases[: table["compared"]])
    difference = float(np.abs(compared - plainly(features, log_prior, cases[: table["compared"]])).max())
    if not difference < 1e-12:
        sys.exit(f"CategoricalNB differs by {difference} from the formula; its fitted attributes have changed")

    singles = [cases[i : i + 1] for i in range(table["singles"])]
    for case in singles[:20]:
        model.predict_proba(case)
    single = statistics.median(seconds(lambda: model.predict_proba(case)) for case in singles)
    batch = statistics.median(seconds(lambda: model.predict_proba(cases)) for _ in range(table["rounds"]))
    json.dump({"sklearn": sklearn.__version__, "numpy": np.__version__, "single_seconds": single,
               "batch_seconds": batch, "compared": compared.tolist()}, sys.stdout)


main(sys.argv[1])
