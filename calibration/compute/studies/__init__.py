"""What a history of checks says: charts, drift, and advice on the interval. Advice is data; nothing is applied."""

from __future__ import annotations
