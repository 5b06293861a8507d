"""The compiled book over columns of visits: the second evaluator, step by step as `diagnosis/pipeline.py`.

Formulas, limits and doubts are the same functions and the same entries of the book; what is written again is only what decides
row by row. A *visit of columns* is a `Visit` whose figures are columns: nan where a row has none.
"""
