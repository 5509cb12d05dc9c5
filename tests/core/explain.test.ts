import { describe, expect, it } from 'vitest'
import { explainAnalyzer, plantStatus } from '../../src/core/explain.js'
import { renderEvidencePage } from '../../src/report/evidencePage.js'
import { renderExplanationText } from '../../src/report/terminal/explanationText.js'
import { renderStatusTable } from '../../src/report/terminal/statusTable.js'
import { smallRegister } from './support/register.js'
import { run } from './support/run.js'

const register = smallRegister(['FE1', 'CFE'])
const analyzers = Object.values(register.points).flatMap(point => Object.keys(point.analyzers))

describe.each([
  ['no tick', []],
  ['one tick', [{ kind: 'tick', time: '2026-04-01T00:00:00Z' }]],
])('before any block is worked through, after %s', (_, messages) => {
  const { state } = run(messages, { register, ticks: 'recorded' })
  const status = plantStatus(state)

  it('lists every analyzer of the register as not assessed', () => {
    expect(status.at).toBe(messages[0]?.time ?? null)
    expect(status.analyzers.map(({ analyzer, assessment, since }) => [analyzer, assessment, since])).toEqual(
      [...analyzers].sort().map(id => [id, 'not_assessed', undefined]),
    )
  })

  it('shows neither health nor a time that never was', () => {
    const explanation = explainAnalyzer(state, analyzers[0]!)!
    const texts = [renderStatusTable(status), renderExplanationText(explanation), renderEvidencePage(explanation)]
    for (const text of texts) {
      expect(text).toContain('Nothing has been assessed yet, so nothing can be asked.')
      expect(text.replace(/[\s│]+/g, ' ')).toMatch(/no block has been worked/)
      expect(text).not.toMatch(/19(69|70)|Nothing is asked|NaN|Infinity/)
      expect(/no plant time yet/i.test(text)).toBe(messages.length === 0)
    }
  })
})
