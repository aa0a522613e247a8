"""Pictures and papers, drawn from frozen dataclasses: charts, the stance, the set-up sheet, the tag, the PDF."""
