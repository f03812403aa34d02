"""What a show file may say: units, models, loading with line numbers. Pure: text in, values out."""

SHOW_FILE = "show.yaml"
