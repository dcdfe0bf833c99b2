"""The write-up: charts, equations, references and the page."""
