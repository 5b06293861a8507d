"""From findings to a diagnosis: ranking, charge, second fault, next checks, costs. `pipeline` is the table of contents."""
