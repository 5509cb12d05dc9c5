import { plainText } from '../plainText.js'

/** Columns of a terminal that everything fits. */
export const COLUMNS = 100

/** Text in lines of at most `width` characters, broken at spaces; a longer word is cut. */
export function wrapText(text: string, width: number): string {
  const lines: string[] = []
  let line = ''
  for (const word of plainText(text)
    .split(' ')
    .flatMap(long => cut(long, width))) {
    if (line === '') line = word
    else if (lengthOf(line) + 1 + lengthOf(word) <= width) line += ` ${word}`
    else {
      lines.push(line)
      line = word
    }
  }
  return [...lines, line].join('\n')
}

function cut(word: string, width: number): readonly string[] {
  const characters = Array.from(word)
  if (characters.length <= width) return [word]
  return Array.from({ length: Math.ceil(characters.length / width) }, (_, part) =>
    characters.slice(part * width, (part + 1) * width).join(''),
  )
}

function lengthOf(text: string): number {
  return Array.from(text).length
}
