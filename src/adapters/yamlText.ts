import { type Document, isMap, isNode, isScalar, isSeq, LineCounter, type Node, type Pair, parseDocument } from 'yaml'

export type ParsedYaml =
  | {
      readonly ok: true
      readonly value: unknown
      /** Odd but readable, each with its place. */
      readonly warnings: readonly string[]
      /** `file:line:column` of a path, as it stands in messages. */
      readonly at: (path: Path) => string
      /** Sorts what has a path by its place in the text. */
      readonly byPlace: (a: { readonly path: Path }, b: { readonly path: Path }) => number
    }
  | { readonly ok: false; readonly problems: readonly string[] }

export type Path = readonly (string | number)[]

/** Reads YAML so that what is wrong with a value can be told with line and column. @param name how the file is called */
export function parseYaml(text: string, name: string): ParsedYaml {
  const lines = new LineCounter()
  const document = parseDocument(text, { lineCounter: lines, uniqueKeys: true, prettyErrors: false })
  const at = (offset: number): string => {
    const { line, col } = lines.linePos(offset)
    return `${name}:${String(line)}:${String(col)}`
  }
  if (document.errors.length > 0) {
    return { ok: false, problems: document.errors.map(error => `${at(error.pos[0])} ${withoutText(error)}`) }
  }
  try {
    return {
      ok: true,
      value: document.toJS({ maxAliasCount: 100 }) as unknown,
      warnings: document.warnings.map(warning => `${at(warning.pos[0])} ${withoutText(warning)}`),
      at: path => at(offsetOf(document, path)),
      byPlace: (a, b) => offsetOf(document, a.path) - offsetOf(document, b.path),
    }
  } catch (error) {
    return { ok: false, problems: [`${name}: ${error instanceof Error ? withoutText(error) : 'cannot be read'}`] }
  }
}

/** What a message cites after its colon is cut off: it may be a password that was not put in quotes. */
function withoutText({ message }: Error): string {
  return message.replace(/: .*$/s, '')
}

/** Where a path stands: a scalar at its value, anything else at its key; what is absent, where it should have been. */
function offsetOf(document: Document, path: Path): number {
  let node: Node | null = isNode(document.contents) ? document.contents : null
  let offset = node?.range?.[0] ?? 0
  for (const key of path) {
    if (isMap(node)) {
      const pair: Pair | undefined = node.items.find(
        item => String(isScalar(item.key) ? item.key.value : item.key) === String(key),
      )
      if (pair === undefined) return offset
      node = isNode(pair.value) ? pair.value : null
      const written = isScalar(node) && node.source !== '' ? node : pair.key
      offset = (isNode(written) ? written.range?.[0] : undefined) ?? offset
    } else if (isSeq(node)) {
      const item: unknown = node.items[Number(key)]
      if (!isNode(item)) return offset
      node = item
      offset = item.range?.[0] ?? offset
    } else return offset
  }
  return offset
}
