export type Quality = 'good' | 'uncertain' | 'bad'

/** Words that stand in a value column or a quality column without a table of the plant's own. Common practice, no source. */
const WORDS: ReadonlyMap<string, Quality> = new Map([
  ['good', 'good'],
  ['ok', 'good'],
  ['uncertain', 'uncertain'],
  ['questionable', 'uncertain'],
  ['bad', 'bad'],
  ['error', 'bad'],
  ['fault', 'bad'],
  ['invalid', 'bad'],
  ['nan', 'bad'],
  ['no data', 'bad'],
  ['no result', 'bad'],
  ['not connected', 'bad'],
  ['timeout', 'bad'],
  ['i/o timeout', 'bad'],
  ['comm fail', 'bad'],
  ['n/a', 'bad'],
  ['#n/a', 'bad'],
])

/** What a word says about a value; undefined for words nobody has told us about. */
export function readQualityWord(word: string): Quality | undefined {
  return WORDS.get(word.trim().toLowerCase())
}
