"""What a table of examined visits adds up to: `table.py` reads it, `sums.py` counts by shares, `savings.py` what an order of
visits saves, `page.py` and `chart.py` tell it."""
