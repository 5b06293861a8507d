"""Practice visits: a machine of the simulator with a hidden fault, to be asked about, judged, and learned from.

`exercise.new` draws one and `exercise.read_exercise` reads its file back; `asking.ask` reveals further readings;
`feedback.feedback` judges an answer; `worksheet` sets a class on paper; `results` sums a class up.
"""
