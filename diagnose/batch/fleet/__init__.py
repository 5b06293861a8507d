"""What a table of examined visits adds up to: `table.py` reads it, `sums.py` counts by shares and tells what an order of visits
saves, `page.py` tells it."""
