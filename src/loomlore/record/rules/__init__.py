"""What is wrong with a record that reads well: names that stand for nothing, connections that cannot be."""

from loomlore.record.rules.checking import check_connections, check_record

__all__ = ["check_connections", "check_record"]
