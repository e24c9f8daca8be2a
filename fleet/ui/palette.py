"""The colours of pages and drawings; the style sheet holds the same values."""

INK = "#1b2330"
INK_SOFT = "#4d5663"
RULE = "#d9d4c6"
SHEET = "#ffffff"

# Pipes as they are painted; nothing else uses these.
BRAKE_PIPE = "#c4262e"
MAIN_RESERVOIR_PIPE = "#e2a900"
TRAIN_PIPE = "#3b6ea5"

BRAKED = "#1d6b57"
CONDITIONAL = "#8a5a00"
CONDITIONAL_TINT = "#f6e7c4"
PIPED = "#46617d"
PIPED_TINT = "#e3eaf1"
STOPPED = "#1b2330"
STOPPED_TINT = "#e4e2dc"
