// SPDX-License-Identifier: Apache-2.0
import { render } from 'preact';
import { App } from './app';
import './tokens.css';
import './base.css';

const page = document.getElementById('page');
if (page) render(<App />, page);
