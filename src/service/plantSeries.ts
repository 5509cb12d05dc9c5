import type { Logger } from 'pino'
import type { InfluxConnection } from '../adapters/connectionsFile.js'
import { createInfluxWriter } from '../adapters/influx/influxWriter.js'
import type { SeriesQueue } from '../adapters/sqliteSeries.js'
import { schedule } from './schedule.js'
import { type SeriesNews, type SeriesPump, startSeriesPump } from './seriesPump.js'

/** Writes a plant's points for dashboards to InfluxDB, and tells the log how that goes. */
export function startPlantSeries(connection: InfluxConnection, queue: SeriesQueue, log: Logger): SeriesPump {
  const who = { database: connection.database, url: connection.url }
  const writer = createInfluxWriter(connection)
  const pump = startSeriesPump({
    queue,
    write: writer.write,
    schedule,
    news: news => tell(news, log.child(who), queue),
  })
  return {
    ...pump,
    stop: async deadlineMs => {
      await pump.stop(deadlineMs)
      writer.close()
    },
  }
}

function tell(news: SeriesNews, log: Logger, queue: SeriesQueue): void {
  switch (news.state) {
    case 'failing':
      log.warn({ problem: news.problem, waiting: queue.counts().waiting }, 'Points for dashboards wait')
      return
    case 'writing':
      log.info({ waiting: queue.counts().waiting }, 'Points for dashboards are written again')
      return
    case 'refused':
      log.error({ points: news.points, because: news.because }, 'Points for dashboards were refused for good')
      return
    case 'dropped':
      log.error({ points: news.points }, 'The oldest points for dashboards were dropped: too many wait')
  }
}
