"""Timings. Each module has a `main()` that prints its figures beside a baseline run in the same minute."""
