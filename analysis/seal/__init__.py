"""Whether a frame's seal changed within its record, and when."""

from isohume.analysis.seal.finding import seal_finding, seal_scan
from isohume.analysis.seal.scan import SealScan

__all__ = ["SealScan", "seal_finding", "seal_scan"]
