export type CsvRow =
  { readonly ok: true; readonly cells: readonly string[] } | { readonly ok: false; readonly rule: string }

/**
 * Cells of one line (RFC 4180 §2), outer white space removed from bare cells. A quoted cell has to end on its line:
 * where it might run on, one forgotten quote would swallow the rest of the file.
 */
export function parseCsvRow(line: string, delimiter: string): CsvRow {
  if (!line.includes('"')) return { ok: true, cells: line.split(delimiter).map(cell => cell.trim()) }
  const cells: string[] = []
  let at = 0
  for (;;) {
    while (line[at] === ' ') at += 1
    if (line[at] === '"') {
      const quoted = readQuoted(line, at + 1)
      if (quoted === undefined) return { ok: false, rule: 'a quoted cell must end on its line' }
      cells.push(quoted.cell)
      at = quoted.next
      while (line[at] === ' ') at += 1
      if (at < line.length && !line.startsWith(delimiter, at)) {
        return { ok: false, rule: 'a closing quote must be followed by the delimiter' }
      }
    } else {
      const end = line.indexOf(delimiter, at)
      const cell = line.slice(at, end === -1 ? line.length : end).trim()
      if (cell.includes('"')) return { ok: false, rule: 'a cell with a quote in it must be quoted as a whole' }
      cells.push(cell)
      at = end === -1 ? line.length : end
    }
    if (at >= line.length) return { ok: true, cells }
    at += delimiter.length
  }
}

function readQuoted(line: string, from: number): { cell: string; next: number } | undefined {
  let cell = ''
  let at = from
  for (;;) {
    const end = line.indexOf('"', at)
    if (end === -1) return undefined
    cell += line.slice(at, end)
    if (line[end + 1] !== '"') return { cell, next: end + 1 }
    cell += '"'
    at = end + 2
  }
}
