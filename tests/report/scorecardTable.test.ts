import { describe, expect, it } from 'vitest'
import { renderScorecard } from '../../src/report/terminal/scorecardTable.js'

describe('the track record as a table', () => {
  const text = renderScorecard([
    {
      class: 'filter',
      line: 'grab',
      cause: 'zero_drift',
      outcomes: { confirmed: 11, not_confirmed: 22, found_within_limits: 33, undecided: 44 },
    },
  ])

  it('has each count under its head, in the words of people', () => {
    expect(text).toMatch(/filter.*Grab samples.*zero drift.*11.*22.*33.*44/)
    expect(text).not.toMatch(/_/)
  })

  it('fits a terminal, and says that it weighs nothing', () => {
    for (const line of text.split('\n')) expect(line.length).toBeLessThanOrEqual(100)
    expect(text.replaceAll('\n', ' ')).toMatch(/changes no weight/)
  })
})
