"""What an edition's texts, games and verdicts come to: checking and publishing."""

from variorum.build.checking import CheckReport, check_edition
from variorum.build.publishing import PublishReport, publish_edition

__all__ = ["CheckReport", "PublishReport", "check_edition", "publish_edition"]
