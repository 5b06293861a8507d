"""Practice visits: a machine of the simulator with a hidden fault, to be asked about, judged, and learned from.

`exercise.new` draws one, `files` writes and reads its file; `asking.ask` reveals further readings; `judging` judges an
answer, `feedback.feedback` tells it as a lesson; `worksheet` sets a class on paper; `results` sums a class up.
"""
