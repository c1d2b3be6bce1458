// What pages beside 'Now' need of a bench: its channels as they are now, and a head of the page that tells at once when what is
// shown is old.

import * as api from './api.js';
import * as header from './header.js';
import { Live } from './live.js';
import { Model } from './model.js';

const again = () => new Promise(resolve => setTimeout(resolve, 3000));

/** Follows one bench at a time. `loaded` is called with the model when a bench, or another bench file, is in force. */
export class Follower {
  constructor({ loaded, numbers = () => {}, quantities = () => {}, state = () => {}, link = () => {} }) {
    Object.assign(this, { loaded, numbers, quantities, state, link });
    this.turn = 0;
    this.lostSince = null;
    header.build();
    setInterval(() => this.model && !document.hidden && header.showClock(this.model), 500);
  }

  /** While the service can't be asked, says so and tries again for ever. */
  async show(id) {
    const turn = ++this.turn;
    while (turn === this.turn) {
      try {
        const answer = await api.bench(id);
        if (turn === this.turn) this.take(id, answer);
        return;
      } catch (problem) {
        header.showTrouble(problem.message);
        await again();
      }
    }
  }

  take(id, answer) {
    this.live?.close();
    header.showLost(this.lostSince = null);
    this.model = new Model(answer);
    document.getElementById('machine').textContent = `${answer.bench.machine}, ${answer.bench.standard}`;
    header.showState(this.model.state);
    header.showLines(this.model);
    this.loaded(this.model);
    this.listen(id, this.model);
  }

  listen(id, model) {
    this.live = new Live(id, '', {
      hello: event => {
        if (event.benchHash !== model.bench.benchHash) return this.show(id);
        model.setOrder(event.channels);
        this.takeState(event.state);
      },
      numbers: event => this.numbers(model.takeNumbers(event).changed),
      quantities: event => this.quantities(model.takeQuantities(event)),
      state: event => this.takeState(event.state),
      link: event => {
        model.instruments.set(event.instrument, { label: '', ...model.instruments.get(event.instrument), ...event });
        header.showLines(model);
        this.link();
      },
      health: header.showHealth,
      bench: () => this.show(id),
      link_changed: up => {
        if (!up && this.lostSince === null) {
          header.showLost(this.lostSince = model.utcNow);
          header.unknown();
        } else if (up && this.lostSince !== null) {
          header.showLost(this.lostSince = null);
        }
        document.body.dataset.link = up ? 'up' : 'lost';
        this.link();
      },
    });
  }

  takeState(state) {
    this.model.takeState(state);
    header.showState(state);
    this.state();
  }

  /** Whether what the model knows is of now. */
  get isUp() {
    return document.body.dataset.link === 'up';
  }
}
