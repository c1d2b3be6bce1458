#!/usr/bin/env bash
# Brings up three instruments that nobody here wrote or that speak a published protocol, on pseudo-terminals and
# loopback TCP, until Ctrl+C. Each prints its process id: kill one, watch the page, start this again.
# Needs Debian's socat, python3-pymodbus, python3-serial and python3-serial-asyncio.
set -euo pipefail
scripts="$(cd "$(dirname "$0")/../scripts" && pwd)"
wires=/tmp/driftwatch-three
mkdir -p "$wires"
trap 'kill $(jobs -p) 2>/dev/null; wait' EXIT
socat "pty,raw,echo=0,link=$wires/gauge" "pty,raw,echo=0,link=$wires/gauge-far" &
socat "pty,raw,echo=0,link=$wires/board" "pty,raw,echo=0,link=$wires/board-far" &
for link in gauge gauge-far board board-far; do
    until [ -e "$wires/$link" ]; do sleep 0.05; done
done
/usr/bin/python3 "$scripts/modbus_slave.py" "$wires/gauge-far" "$wires/gauge.log" >/dev/null &
echo "Modbus pressure transmitter: process $!, sent values in $wires/gauge.log"
/usr/bin/python3 "$scripts/scpi_responder.py" 45026 "$wires/meter.log" >/dev/null 2>&1 &
echo "SCPI multimeter: process $!, sent values in $wires/meter.log (create $wires/meter.log.garble to garble it)"
/usr/bin/python3 "$scripts/line_emitter.py" "$wires/board-far" "$wires/board.log" 10 1 >/dev/null &
echo "Line emitter at 115200: process $!, sent lines in $wires/board.log"
echo "Ctrl+C stops all three."
wait
