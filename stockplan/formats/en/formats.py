"""Thu 26 Nov 2026 13:40: read alike by everybody, and in the words of the working pages. Names as Django reads them."""

DATE_FORMAT = "D j M Y"
SHORT_DATE_FORMAT = "D j M"
TIME_FORMAT = "H:i"
DATETIME_FORMAT = "D j M Y H:i"
SHORT_DATETIME_FORMAT = "D j M H:i"
